-- Grain: one loaded file some of whose rows were set aside later. Inputs: sources, quarantine. Reader: intake.
-- Without a digest the file is read again at its next load.
UPDATE sources AS s
SET
    rows_kept = s.rows_kept - $gone,
    rows_quarantined = s.rows_quarantined + $gone,
    sha256 = ''
WHERE s.source_file = $name
