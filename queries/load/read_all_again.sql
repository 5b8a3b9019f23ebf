-- Grain: every loaded file; it is read again at its next load. Input: sources. Reader: intake, after files were dropped,
-- for a row they held may be another file's too.
UPDATE sources SET read_again = true
