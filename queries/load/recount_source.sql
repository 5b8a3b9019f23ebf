-- Grain: one loaded file some of whose rows were set aside later. Inputs: sources, quarantine. Reader: intake.
-- The file is read again at its next load.
UPDATE sources AS s
SET
    rows_kept = s.rows_kept - $gone,
    rows_quarantined = s.rows_quarantined + $gone,
    read_again = true
WHERE s.source_file = $name
