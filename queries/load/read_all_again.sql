-- Grain: every loaded file; it is read again at its next load. Input: sources. Reader: intake, after files were dropped,
-- because another file may hold the same row.
UPDATE sources SET read_again = true
