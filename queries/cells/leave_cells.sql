-- Grain: one cell of bowler x pattern class x ball class x phase x entry zone x leave. Input: first_balls.
-- Readers: models/spares/leave. Strikes are left out: this is the leave given no strike.
SELECT
    bowler,
    hand,
    pattern_class,
    ball_class,
    phase,
    entry_zone,
    leave,
    leave_type,
    count(*) AS shots
FROM first_balls
WHERE NOT strike
GROUP BY ALL
ORDER BY ALL
