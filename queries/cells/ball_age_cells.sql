-- Grain: one cell of ball x block x game x line, with the ball's age when it was thrown.
-- Inputs: first_balls, deliveries, balls, maintenance. Reader: models/ball_wear.
-- Parameter: $usual - games after which a resurfacing is usual; what is known of a ball before its first logged
--   resurfacing is only games_before, so its surface is then taken to be no older than that at the season's start.
-- A game on a ball is the share of that game's first deliveries thrown with it, so a game shared by two balls counts
-- for both in proportion. Ages are taken at the middle of the game. Care logged on a date comes before that day's games;
-- a game that passes midnight is of the date it began on.
WITH game_sizes AS (
    SELECT bowler, block, game, count(*) AS size
    FROM deliveries
    WHERE first_ball
    GROUP BY ALL
),

used AS (
    SELECT d.ball, d.bowler, min(d.date) AS date, d.block, d.game, count(*) / any_value(g.size) AS games
    FROM deliveries AS d
    JOIN game_sizes AS g USING (bowler, block, game)
    WHERE d.first_ball
    GROUP BY d.ball, d.bowler, d.block, d.game
),

worn AS (
    SELECT
        u.*,
        b.games_before,
        sum(u.games) OVER (PARTITION BY u.ball ORDER BY u.date, u.block, u.game) - u.games / 2 AS logged
    FROM used AS u
    JOIN balls AS b ON b.ball = u.ball AND NOT b.spare_ball
),

care AS (
    SELECT
        m.ball,
        m.date,
        m.action = 'resurface' AS resurfaced,
        coalesce(sum(u.games) FILTER (WHERE u.date < m.date), 0) AS logged
    FROM maintenance AS m
    LEFT JOIN used AS u USING (ball)
    GROUP BY ALL
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
    LEFT JOIN care AS c ON c.ball = w.ball AND c.date <= w.date
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
