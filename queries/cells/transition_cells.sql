-- Grain: one ball on one line of one bowler on one pattern class, by game and by load of the pair to the nearest 40.
-- Input: first_balls. Reader: pricing/worth_curves. Shots without an arrow board have no line and are left out.
SELECT
    f.bowler,
    f.pattern_class,
    f.ball,
    any_value(coalesce(f.ball_class, 'ball not listed')) AS ball_class,
    f.line,
    f.game,
    (f.pair_load + 20) // 40 * 40 AS pair_load,
    count(*) AS shots,
    count(*) FILTER (WHERE f.strike) AS strikes
FROM first_balls AS f
WHERE f.line IS NOT NULL
GROUP BY f.bowler, f.pattern_class, f.ball, f.line, f.game, (f.pair_load + 20) // 40 * 40
ORDER BY f.bowler, f.pattern_class, f.ball, f.line, f.game, (f.pair_load + 20) // 40 * 40
