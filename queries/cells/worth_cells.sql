-- Grain: one cell of bowler x block x pair x ball x game x line x pair load in steps of $load_step.
-- Input: first_balls. Reader: models/strikes/worth_cells. The sufficient counts of the worth model, and means of the boards.
SELECT
    bowler,
    block,
    pattern_class,
    pair,
    any_value(hand) AS hand,
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
    count(*) FILTER (WHERE strike) AS strikes,
    avg(arrow_board) AS arrow_board,
    coalesce(var_pop(arrow_board), 0) AS arrow_variance,
    avg(entry_board) AS entry_board,
    coalesce(var_pop(entry_board), 0) AS entry_variance,
    count(entry_board) AS entries
FROM first_balls
GROUP BY bowler, block, pattern_class, pair, ball, ball_class, game, line, pair_load // $load_step * $load_step
ORDER BY bowler, block, pattern_class, pair, ball, ball_class, game, line, pair_load
