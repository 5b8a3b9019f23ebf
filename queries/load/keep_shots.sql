-- Grain: one delivery that passed every check. Inputs: staged_shots, frames, outcomes (one row per delivery of a frame
-- shape), read_dates, shot_files, known_blocks, known_bowlers, known_balls. Reader: intake.
INSERT INTO deliveries
SELECT
    t.date, bl.block, bo.bowler, s.lane, s.game, s.frame, s.delivery, ba.ball,
    s.laydown_board, s.arrow_board, s.breakpoint_board, s.breakpoint_ft, s.entry_board, s.entry_angle_deg, s.speed_mph,
    s.rev_rpm, o.facing, o.standing, o.first_ball, o.foul, o.repaired, s.note, f.source_file,
    coalesce(s.line, s.rowid - f.first_row + 2)
FROM staged_shots AS s
JOIN frames AS fr USING (frame_key)
JOIN outcomes AS o
    ON o.tenth = fr.tenth AND o.left_handed = fr.left_handed AND o.first_mark = fr.first_mark
    AND o.second_mark = fr.second_mark AND o.third_mark = fr.third_mark AND o.delivery = s.delivery
JOIN read_dates AS t ON t.file_no = s.file_no AND t.date_text = s.date_text
JOIN shot_files AS f ON f.file_no = s.file_no
JOIN known_blocks AS bl ON bl.block_no = s.block_no
JOIN known_bowlers AS bo ON bo.bowler_no = s.bowler_no
JOIN known_balls AS ba ON ba.ball_no = s.ball_no
WHERE s.faults = 0 AND o.problem IS NULL
