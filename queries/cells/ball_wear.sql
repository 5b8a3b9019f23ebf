-- Grain: one ball that is not a spare ball, in one block. Inputs: deliveries, balls, maintenance. Reader: models/strike_worth.
-- Games since its last resurfacing, half-way through what it was thrown in the block.
-- Parameter: $usual, and games on a ball, as in cells/ball_age_cells. Care logged on a date comes before that day's games;
-- a block that passes midnight is of the date it began on.
WITH game_sizes AS (
    SELECT bowler, block, game, count(*) AS size
    FROM deliveries
    WHERE first_ball
    GROUP BY ALL
),

used AS (
    SELECT d.ball, d.block, min(d.date) AS date, sum(1 / g.size) AS games
    FROM deliveries AS d
    JOIN game_sizes AS g USING (bowler, block, game)
    WHERE d.first_ball
    GROUP BY d.ball, d.block
),

worn AS (
    SELECT
        u.ball,
        u.date,
        u.block,
        b.games_before,
        sum(u.games) OVER (PARTITION BY u.ball ORDER BY u.date, u.block) - u.games / 2 AS logged
    FROM used AS u
    JOIN balls AS b ON b.ball = u.ball AND NOT b.spare_ball
),

resurfaced AS (
    SELECT m.ball, m.date, coalesce(sum(u.games) FILTER (WHERE u.date < m.date), 0) AS logged
    FROM maintenance AS m
    LEFT JOIN used AS u USING (ball)
    WHERE m.action = 'resurface'
    GROUP BY ALL
)

SELECT
    w.ball,
    w.block,
    coalesce(any_value(w.logged) - max(r.logged), least(any_value(w.games_before), $usual) + any_value(w.logged))
        AS games_since_resurface
FROM worn AS w
LEFT JOIN resurfaced AS r ON r.ball = w.ball AND r.date <= w.date
GROUP BY w.ball, w.block
ORDER BY w.ball, w.block
