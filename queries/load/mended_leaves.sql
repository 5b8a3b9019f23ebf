-- Grain: one text of a leave in one file that is not written as the guide has it, with the pins it was read as.
-- Inputs: staged_shots, frames, outcomes, shot_files, and the texts as $texts. Reader: intake.
-- Pins are stored as the bowler's own hand sees them, so a left-hander's are mirrored before they are shown.
SELECT f.source_file, s.leave_text, o.standing, fr.left_handed, count(*) AS rows
FROM staged_shots AS s
JOIN frames AS fr USING (frame_key)
JOIN outcomes AS o USING (tenth, left_handed, first_mark, second_mark, third_mark, delivery)
JOIN shot_files AS f USING (file_no)
WHERE s.leave_text IN (SELECT unnest($texts::VARCHAR[])) AND s.faults = 0 AND o.problem IS NULL
GROUP BY ALL
ORDER BY ALL
