-- Grain: one ball that is not a spare ball, in one block. Inputs: ball_games, balls, care_games. Reader: models/strikes/worth_cells.
-- Games since its last resurfacing, half-way through what it was thrown in the block.
-- Parameter: $usual, and games on a ball, as in cells/ball_age_cells.
WITH used AS (
    SELECT ball, block, min(date) AS date, sum(games) AS games
    FROM ball_games
    GROUP BY ball, block
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
)

SELECT
    w.ball,
    w.block,
    coalesce(any_value(w.logged) - max(r.logged), least(any_value(w.games_before), $usual) + any_value(w.logged))
        AS games_since_resurface
FROM worn AS w
LEFT JOIN care_games AS r ON r.ball = w.ball AND r.date <= w.date AND r.resurfaced
GROUP BY w.ball, w.block
ORDER BY w.ball, w.block
