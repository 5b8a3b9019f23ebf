-- Grain: one shots file with rows that are no deliveries: blanks or totals. Inputs: staged_shots, and the bit of such rows as
-- $no_record. Reader: intake.
SELECT file_no, count(*) FROM staged_shots WHERE faults = $no_record GROUP BY file_no
