-- Grain: one cell of bowler x block x ball x game x line x pair load in steps of $load_step.
-- Input: first_balls. Reader: models/strike_worth. The sufficient counts of the worth model.
SELECT
    bowler,
    block,
    pattern_class,
    any_value(pattern) AS pattern,
    any_value(length_ft) AS length_ft,
    any_value(volume_ml) AS volume_ml,
    any_value(ratio) AS ratio,
    ball,
    coalesce(ball_class, 'ball not listed') AS ball_class,
    game,
    coalesce(line, 'line not logged') AS line,
    pair_load // $load_step * $load_step + ($load_step - 1) / 2 AS pair_load,   -- the middle of the step
    count(*) AS shots,
    count(*) FILTER (WHERE strike) AS strikes
FROM first_balls
GROUP BY bowler, block, pattern_class, ball, ball_class, game, line, pair_load // $load_step * $load_step
ORDER BY bowler, block, pattern_class, ball, ball_class, game, line, pair_load
