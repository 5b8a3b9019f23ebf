-- Grain: one ball that is not a spare ball, in one block. Inputs: ball_games, balls, care_so_far.
-- Reader: models/strikes/worth_cells, which needs one number per ball and block; cells/ball_age_cells counts shots by age.
-- Games since its last resurfacing, half-way through what it was thrown in the block.
-- Parameter: $usual, as in cells/ball_age_cells.
WITH used AS (
    SELECT ball, block, min(date) AS date, sum(games) AS games
    FROM ball_games
    GROUP BY ball, block
),

worn AS (
    SELECT *, sum(games) OVER (PARTITION BY ball ORDER BY date, block) - games / 2 AS logged
    FROM used
)

SELECT
    w.ball,
    w.block,
    coalesce(w.logged - c.at_resurfacing, least(b.games_before, $usual) + w.logged) AS games_since_resurface
FROM worn AS w
JOIN balls AS b ON b.ball = w.ball AND NOT b.spare_ball
JOIN care_so_far AS c ON c.ball = w.ball AND c.date = w.date
ORDER BY w.ball, w.block
