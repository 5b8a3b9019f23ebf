-- Grain: one shots file, with the ``rowid`` of the first of its rows. Input: staged_shots, all rows. Reader: intake.
SELECT file_no, min(rowid) FROM staged_shots GROUP BY file_no
