-- Grain: one row of a shots file that cannot be kept. Inputs: staged_shots, shot_files, frames, outcomes, clashes.
-- Reader: intake. Either faults is not 0, or problem numbers what is wrong with its place in the frame.
SELECT s.file_no, coalesce(s.line, s.rowid - f.first_row + 2) AS line, s.faults, NULL::INTEGER AS problem, c.other
FROM staged_shots AS s
JOIN shot_files AS f USING (file_no)
LEFT JOIN clashes AS c ON c.frame_key = s.frame_key
WHERE s.faults <> 0
UNION ALL
SELECT s.file_no, coalesce(s.line, s.rowid - f.first_row + 2), 0, b.problem, NULL
FROM staged_shots AS s
JOIN shot_files AS f USING (file_no)
JOIN (
    SELECT fr.frame_key, o.delivery, o.problem
    FROM frames AS fr
    JOIN outcomes AS o USING (tenth, left_handed, first_mark, second_mark, third_mark)
    WHERE o.problem IS NOT NULL
) AS b ON b.frame_key = s.frame_key AND b.delivery = s.delivery
WHERE s.faults = 0
ORDER BY 1, 2
