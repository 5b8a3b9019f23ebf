-- Grain: one ball on one day it was thrown. Inputs: ball_games, care_games. Readers: cells/ball_age_cells, cells/ball_wear.
-- at_resurfacing and at_care: games on the ball in the log before its latest resurfacing and its latest care of any kind,
-- null if there was none. surface_number: resurfacings so far. Care logged on a date comes before that day's games.
CREATE OR REPLACE TEMP VIEW care_so_far AS
WITH days AS (
    SELECT DISTINCT ball, date FROM ball_games
)

SELECT
    u.ball,
    u.date,
    max(c.logged) FILTER (WHERE c.resurfaced) AS at_resurfacing,
    max(c.logged) AS at_care,
    count(DISTINCT c.date) FILTER (WHERE c.resurfaced) AS surface_number
FROM days AS u
LEFT JOIN care_games AS c ON c.ball = u.ball AND c.date <= u.date
GROUP BY u.ball, u.date
