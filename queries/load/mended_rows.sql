-- Grain: one kept row of a shots file with a cell that was perhaps read otherwise than written. Inputs: staged_shots,
-- deliveries, shot_files. Reader: intake, which looks at the row's text.
SELECT s.file_no, s.line
FROM staged_shots AS s
JOIN shot_files AS f USING (file_no)
JOIN deliveries AS d ON d.source_file = f.source_file AND d.line = s.line
WHERE s.mended
ORDER BY s.file_no, s.line
