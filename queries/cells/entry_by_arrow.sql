-- Grain: one bowler. Input: first_balls. Reader: decisions/students/focus.
-- Least-squares parts of the entry step on the arrow step (steps as in cells/board_steps, large ones left out as moves of the line).
WITH steps AS (
    SELECT
        bowler,
        arrow_board - lag(arrow_board) OVER same_lane AS arrow_step,
        entry_board - lag(entry_board) OVER same_lane AS entry_step
    FROM first_balls
    WINDOW same_lane AS (PARTITION BY block, bowler, lane, ball ORDER BY game, frame, delivery)
)
SELECT
    bowler,
    count(*) AS steps,
    sum(arrow_step * entry_step) AS products,
    sum(arrow_step * arrow_step) AS squares
FROM steps
WHERE abs(arrow_step) < 6 AND entry_step IS NOT NULL
GROUP BY bowler
ORDER BY bowler
