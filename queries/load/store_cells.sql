-- Grain: one value of one column of one shots file that was read otherwise than written, with the kept rows that hold it.
-- Inputs: staged_shots, frames, outcomes, shot_files. Reader: intake.
INSERT INTO readings
SELECT f.source_file, s.cell.column_name, s.cell.value, s.cell.read_as, count(*)
FROM (
    SELECT file_no, frame_key, delivery, unnest(readings) AS cell
    FROM staged_shots
    WHERE readings IS NOT NULL AND faults = 0
) AS s
JOIN frames AS fr USING (frame_key)
JOIN outcomes AS o USING (tenth, left_handed, first_mark, second_mark, third_mark, delivery)
JOIN shot_files AS f USING (file_no)
WHERE o.problem IS NULL
GROUP BY ALL
