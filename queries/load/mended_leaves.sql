-- Grain: one text of a leave in one file that is not written as the guide has it, with the pins it was read as.
-- Inputs: staged_shots, deliveries, shot_files, known_bowlers, and the texts as $texts. Reader: intake.
-- Pins are stored as the bowler's own hand sees them, so a left-hander's are mirrored before they are shown.
SELECT f.source_file, s.leave_text, d.standing, b.left_handed, count(*) AS rows
FROM staged_shots AS s
JOIN shot_files AS f USING (file_no)
JOIN known_bowlers AS b USING (bowler_no)
JOIN deliveries AS d ON d.source_file = f.source_file AND d.line = s.line
WHERE s.leave_text IN (SELECT unnest($texts::VARCHAR[]))
GROUP BY ALL
ORDER BY ALL
