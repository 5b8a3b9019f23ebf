-- Grain: one delivery that a file holds more than once, with the ``rowid`` of the first and whether all copies are alike.
-- Inputs: staged_shots, frames. Reader: intake, which marks the copies.
CREATE OR REPLACE TEMP TABLE copies AS
SELECT
    s.frame_key,
    s.delivery,
    min(s.rowid) AS first_row,
    count(DISTINCT hash(
        s.date_text, s.ball_no, s.lane, s.laydown_board, s.arrow_board, s.breakpoint_board, s.breakpoint_ft, s.entry_board,
        s.entry_angle_deg, s.speed_mph, s.rev_rpm, s.leave_text, s.foul, s.note, s.faults
    )) = 1 AS alike
FROM staged_shots AS s
SEMI JOIN (
    SELECT frame_key FROM frames
    WHERE deliveries > (first_mark <> 0)::INTEGER + (second_mark <> 0)::INTEGER + (third_mark <> 0)::INTEGER
) AS f USING (frame_key)
WHERE s.delivery IS NOT NULL
GROUP BY s.frame_key, s.delivery
HAVING count(*) > 1
