-- Grain: one cell of bowler x block x ball x game x half entry board (null if not logged). Input: first_balls.
-- Reader: models/strikes/strike_by_entry. The sufficient counts of the entry models.
SELECT
    bowler,
    block,
    pattern_class,
    ball,
    coalesce(ball_class, 'ball not listed') AS ball_class,
    game,
    entry_half,
    entry_zone,
    count(*) AS shots,
    count(*) FILTER (WHERE strike) AS strikes
FROM first_balls
GROUP BY ALL
ORDER BY ALL
