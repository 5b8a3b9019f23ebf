-- Grain: one game of one bowler in one block. Input: first_balls. Reader: models/lines/line_drift.
-- Mean boards of the first deliveries; null if none of the game's was logged.
SELECT
    bowler,
    pattern_class,
    block,
    game,
    avg(laydown_board) AS laydown,
    avg(arrow_board) AS arrow,
    avg(breakpoint_board) AS breakpoint,
    count(laydown_board) AS laydown_shots,
    count(arrow_board) AS arrow_shots,
    count(breakpoint_board) AS breakpoint_shots
FROM first_balls
GROUP BY bowler, pattern_class, block, game
ORDER BY bowler, pattern_class, block, game
