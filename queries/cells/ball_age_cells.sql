-- Grain: one cell of ball x block x game x line, with the ball's age when it was thrown.
-- Inputs: first_balls, ball_games, balls, care_games. Reader: models/balls/ball_wear.
-- Parameter: $usual - games after which a resurfacing is usual; what is known of a ball before its first logged
--   resurfacing is only games_before, so its surface is then taken to be no older than that at the season's start.
-- Ages are taken at the middle of the game.
WITH worn AS (
    SELECT
        u.*,
        b.games_before,
        sum(u.games) OVER (PARTITION BY u.ball ORDER BY u.date, u.block, u.game) - u.games / 2 AS logged
    FROM ball_games AS u
    JOIN balls AS b ON b.ball = u.ball AND NOT b.spare_ball
),

aged AS (
    SELECT
        w.ball,
        w.block,
        w.game,
        w.games_before + w.logged AS games_total,
        coalesce(
            w.logged - max(c.logged) FILTER (WHERE c.resurfaced),
            least(w.games_before, $usual) + w.logged
        ) AS games_since_resurface,
        coalesce(w.logged - max(c.logged), least(w.games_before, $usual) + w.logged) AS games_since_care,
        count(DISTINCT c.date) FILTER (WHERE c.resurfaced) AS surface_number
    FROM worn AS w
    LEFT JOIN care_games AS c ON c.ball = w.ball AND c.date <= w.date
    GROUP BY w.ball, w.block, w.game, w.games_before, w.logged
)

SELECT
    f.bowler,
    f.style,
    f.ball,
    f.ball_class,
    f.block,
    f.pattern_class,
    f.game,
    f.line,
    a.games_total,
    a.games_since_resurface,
    a.games_since_care,
    a.surface_number,
    count(*) AS shots,
    count(*) FILTER (WHERE f.strike) AS strikes,
    count(f.entry_board) AS entries,
    avg(f.entry_board) AS entry_board,                                       -- null where not logged
    avg(f.arrow_board) FILTER (WHERE f.entry_board IS NOT NULL) AS arrow_board,
    count(*) FILTER (WHERE f.entry_zone IN ('short', 'light')) AS missed_hook
FROM first_balls AS f
JOIN aged AS a ON a.ball = f.ball AND a.block = f.block AND a.game = f.game
GROUP BY ALL
ORDER BY ALL
