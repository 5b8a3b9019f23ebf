-- Grain: one cell of ball x block x game x line, with the ball's age when it was thrown.
-- Inputs: first_balls, ball_games, balls, care_so_far. Reader: models/balls/ball_wear.
-- Parameter: $usual - games after which a resurfacing is usual. Before a ball's first logged resurfacing only
--   games_before is known, so its surface is taken to be at most $usual games old at the season's start.
-- Ages are taken at the middle of the game.
WITH worn AS (
    SELECT *, sum(games) OVER (PARTITION BY ball ORDER BY date, block, game) - games / 2 AS logged
    FROM ball_games
),

aged AS (
    SELECT
        w.ball,
        w.bowler,
        w.block,
        w.game,
        b.games_before + w.logged AS games_total,
        coalesce(w.logged - c.at_resurfacing, least(b.games_before, $usual) + w.logged) AS games_since_resurface,
        coalesce(w.logged - c.at_care, least(b.games_before, $usual) + w.logged) AS games_since_care,
        c.surface_number
    FROM worn AS w
    JOIN balls AS b ON b.ball = w.ball AND NOT b.spare_ball
    JOIN care_so_far AS c ON c.ball = w.ball AND c.date = w.date
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
    avg(f.entry_board) AS entry_board,                                       -- null if not logged
    avg(f.arrow_board) FILTER (WHERE f.entry_board IS NOT NULL) AS arrow_board,
    count(*) FILTER (WHERE f.entry_zone IN ('short', 'light')) AS missed_hook
FROM first_balls AS f
JOIN aged AS a ON a.ball = f.ball AND a.bowler = f.bowler AND a.block = f.block AND a.game = f.game
GROUP BY ALL
ORDER BY ALL
