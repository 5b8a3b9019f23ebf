-- Grain: one ball on one line of one bowler in one phase on one pattern class. Inputs: first_balls, balls, ball_classes.
-- Readers: decisions/candidates. line is null if the arrow board was not logged; game is the mean game of the shots.
SELECT
    f.bowler,
    f.pattern_class,
    f.phase,
    f.ball,
    f.line,
    any_value(coalesce(f.ball_class, 'ball not listed')) AS ball_class,
    any_value(bc.rg_class) AS rg_class,
    any_value(bc.diff_class) AS diff_class,
    any_value(bc.surface_class) AS surface_class,
    any_value(coalesce(b.benchmark, false)) AS benchmark,
    any_value(coalesce(b.spare_ball, false)) AS spare_ball,
    count(*) AS shots,
    count(*) FILTER (WHERE f.strike) AS strikes,
    avg(f.game) AS game
FROM first_balls AS f
LEFT JOIN balls AS b ON b.ball = f.ball
LEFT JOIN ball_classes AS bc ON bc.ball = f.ball
GROUP BY f.bowler, f.pattern_class, f.phase, f.ball, f.line
ORDER BY f.bowler, f.pattern_class, f.phase, f.ball, f.line
