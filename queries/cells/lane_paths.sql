-- Grain: one ball on one line of one bowler, in one phase on one pattern class. Inputs: first_balls, deliveries, balls.
-- Reader: decisions/transition/lane_paths. Mean boards, null if none was logged; shots without an arrow board have no line.
SELECT
    f.bowler,
    f.pattern_class,
    f.phase,
    f.ball,
    f.line,
    avg(f.laydown_board) AS laydown,
    avg(f.arrow_board) AS arrow,
    avg(f.breakpoint_board) AS breakpoint,
    avg(d.breakpoint_ft) AS breakpoint_ft,
    avg(f.entry_board) AS entry,
    count(*) AS shots
FROM first_balls AS f
JOIN deliveries AS d USING (bowler, block, lane, game, frame, delivery)
JOIN balls AS b ON b.ball = f.ball AND NOT b.spare_ball
WHERE f.line IS NOT NULL AND f.phase IS NOT NULL
GROUP BY ALL
ORDER BY ALL
