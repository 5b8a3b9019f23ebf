-- Grain: one frame of one file. Inputs: staged_shots, marks, known_bowlers. Readers: load/copies, load/clashes, load/keep_shots, load/set_aside.
-- The bit $needless of faults marks a needless copy of a row that is kept, so it says nothing of the frame.
CREATE OR REPLACE TEMP TABLE frames AS
WITH summed AS (
    SELECT
        s.frame_key,
        any_value(s.bowler_no) AS bowler_no,
        count(*) AS deliveries,
        coalesce(max(CASE WHEN s.delivery = 1 THEN coalesce(m.mark, -1) END), 0)::INTEGER AS first_mark,
        coalesce(max(CASE WHEN s.delivery = 2 THEN coalesce(m.mark, -1) END), 0)::INTEGER AS second_mark,
        coalesce(max(CASE WHEN s.delivery = 3 THEN coalesce(m.mark, -1) END), 0)::INTEGER AS third_mark
    FROM staged_shots AS s
    LEFT JOIN marks AS m ON s.faults = 0 AND m.leave_text = s.leave_text AND m.foul = s.foul
    WHERE s.frame_key IS NOT NULL AND s.delivery IS NOT NULL AND (s.faults & $needless) = 0
    GROUP BY s.frame_key
)
SELECT f.*, f.frame_key % 16 = 10 AS tenth, b.left_handed
FROM summed AS f
JOIN known_bowlers AS b USING (bowler_no)
