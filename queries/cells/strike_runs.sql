-- Grain: one combination of first deliveries, strikes and runs within a game. Input: first_balls. Reader: validation/posterior_predictive.
-- Only the first delivery of each of the ten frames counts, so a game's number of them does not depend on its result. A run
-- is a stretch of strikes, or of first deliveries without one, in the order of the frames.
WITH in_order AS (
    SELECT
        block,
        bowler,
        game,
        strike,
        strike IS DISTINCT FROM lag(strike) OVER (PARTITION BY block, bowler, game ORDER BY frame) AS starts
    FROM first_balls
    WHERE delivery = 1
),
games AS (
    SELECT
        count(*) AS first_balls,
        count(*) FILTER (WHERE strike) AS strikes,
        count(*) FILTER (WHERE starts) AS runs
    FROM in_order
    GROUP BY block, bowler, game
)
SELECT first_balls, strikes, runs, count(*) AS games
FROM games
GROUP BY ALL
ORDER BY ALL
