-- Grain: one ball on one day: shots (fouls left out) and games on it. Input: deliveries. Readers: cells/ball_states, cells/ball_care.
-- A game on a ball is the share of that game's first deliveries thrown with it.
CREATE OR REPLACE TEMP VIEW ball_use AS
WITH game_sizes AS (
    SELECT bowler, block, game, count(*) AS size
    FROM deliveries
    WHERE first_ball
    GROUP BY ALL
)

SELECT d.ball, d.date, count(*) FILTER (WHERE NOT d.foul) AS shots, sum(1 / g.size) AS games
FROM deliveries AS d
JOIN game_sizes AS g USING (bowler, block, game)
WHERE d.first_ball
GROUP BY ALL
