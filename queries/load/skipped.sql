-- Grain: one shots file with rows that are no deliveries: blanks or totals. Input: staged_shots. Reader: intake.
SELECT file_no, count(*) FROM staged_shots WHERE faults = 33554432 GROUP BY file_no
