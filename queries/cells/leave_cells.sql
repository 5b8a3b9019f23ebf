-- Grain: one cell of bowler x stretch of nights x pattern class x ball class x phase x entry zone x leave.
-- Inputs: first_balls, block_stretches.
-- Readers: models/spares/leave. Strikes are left out: this is the leave given no strike.
SELECT
    bowler,
    stretch,
    hand,
    pattern_class,
    ball_class,
    phase,
    entry_zone,
    leave,
    leave_type,
    count(*) AS shots
FROM first_balls
JOIN block_stretches USING (block)
WHERE NOT strike
GROUP BY ALL
ORDER BY ALL
