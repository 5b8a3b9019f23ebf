-- Grain: one cell of bowler x block x ball x game x line x half entry board x pair load in steps of 20.
-- Input: first_balls. Reader: decisions/entry. With 56 and 57, which sum it, these are the sufficient counts of every carry model.
SELECT
    bowler,
    hand,
    style,
    block,
    pattern_class,
    any_value(length_ft) AS length_ft,
    any_value(volume_ml) AS volume_ml,
    any_value(ratio) AS ratio,
    ball,
    ball_class,
    game,
    phase,
    line,
    entry_half,
    entry_zone,
    pair_load // 20 * 20 AS pair_load,
    count(*) AS shots,
    count(*) FILTER (WHERE strike) AS strikes
FROM first_balls
GROUP BY ALL
ORDER BY ALL
