-- Grain: one ball in one game of one bowler. Input: deliveries.
-- Readers: views/ball_use, views/care_games, views/care_so_far, cells/ball_age_cells, cells/ball_wear.
-- games: the share of the game's first deliveries thrown with the ball, so a game shared by two balls counts for both in
-- proportion. shots leaves fouls out. A block that passes midnight is of the date it began on.
CREATE OR REPLACE TEMP VIEW ball_games AS
WITH game_sizes AS (
    SELECT bowler, block, game, count(*) AS size
    FROM deliveries
    WHERE first_ball
    GROUP BY ALL
)

SELECT
    d.ball,
    d.bowler,
    d.block,
    d.game,
    min(min(d.date)) OVER (PARTITION BY d.ball, d.block) AS date,
    count(*) FILTER (WHERE NOT d.foul) AS shots,
    count(*) / any_value(g.size) AS games
FROM deliveries AS d
JOIN game_sizes AS g USING (bowler, block, game)
WHERE d.first_ball
GROUP BY d.ball, d.bowler, d.block, d.game
