-- Grain: one date of one shots file that is not written as year-month-day, with what it was read as and the kept rows that hold
-- it. Inputs: staged_shots, frames, outcomes, shot_files, read_dates. Reader: intake.
SELECT f.source_file, 'date', s.date_text, any_value(t.date)::VARCHAR, count(*)
FROM staged_shots AS s
JOIN read_dates AS t ON t.file_no = s.file_no AND t.date_text = s.date_text AND t.date::VARCHAR <> s.date_text
JOIN frames AS fr USING (frame_key)
JOIN outcomes AS o USING (tenth, left_handed, first_mark, second_mark, third_mark, delivery)
JOIN shot_files AS f ON f.file_no = s.file_no
WHERE s.faults = 0 AND o.problem IS NULL
GROUP BY f.source_file, s.date_text
