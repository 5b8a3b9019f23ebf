-- Grain: one cell of bowler x block x game x ball x arrow board (whole), of shots with both boards logged.
-- Input: first_balls, balls. Reader: models/balls/ball_hook. Means within the cell keep the finer boards.
SELECT
    f.bowler,
    f.block,
    f.pattern_class,
    f.game,
    f.ball,
    count(*) AS shots,
    avg(f.arrow_board) AS arrow_board,
    avg(f.laydown_board) AS laydown_board,           -- null if never logged in the cell
    avg(f.speed_mph) AS speed_mph,
    avg(f.entry_board) AS entry_board
FROM first_balls AS f
JOIN balls AS b ON b.ball = f.ball AND NOT b.spare_ball
WHERE f.arrow_board IS NOT NULL AND f.entry_board IS NOT NULL
GROUP BY f.bowler, f.block, f.pattern_class, f.game, f.ball, round(f.arrow_board)
ORDER BY ALL
