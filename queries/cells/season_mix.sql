-- Grain: one cell of bowler x pattern x game x ball x line. Input: first_balls. Reader: models/season_mix.
-- What each bowler threw over the season, as weights of the bowler's own average.
SELECT
    bowler,
    pattern_class,
    pattern,
    game,
    phase,
    ball,
    ball_class,
    line,
    avg(length_ft) AS length_ft,
    avg(volume_ml) AS volume_ml,
    avg(ratio) AS ratio,
    avg(pair_load) AS pair_load,
    count(*) AS shots,
    count(*) FILTER (WHERE strike) AS strikes
FROM first_balls
GROUP BY ALL
ORDER BY ALL
