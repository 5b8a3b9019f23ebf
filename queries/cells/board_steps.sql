-- Grain: one size of step, in tenths of a board, of one bowler on one pattern class in one third of the season.
-- Input: first_balls. Reader: models/skills/accuracy. A step is the change of the board from one first delivery to the next with the
-- same ball on the same lane of the same block, so a slow move of the line hardly counts. third as in cells/strike_cells_by_block.
WITH steps AS (
    SELECT
        bowler,
        block,
        pattern_class,
        arrow_board - lag(arrow_board) OVER same_lane AS arrow_step,
        entry_board - lag(entry_board) OVER same_lane AS entry_step
    FROM first_balls
    WINDOW same_lane AS (PARTITION BY block, bowler, lane, ball ORDER BY game, frame, delivery)
),
boards AS (
    SELECT bowler, block, pattern_class, 'arrow' AS board, arrow_step AS step FROM steps
    UNION ALL
    SELECT bowler, block, pattern_class, 'entry' AS board, entry_step AS step FROM steps
)
SELECT
    b.bowler,
    t.third,
    b.pattern_class,
    b.board,
    round(abs(b.step), 1) AS size,
    count(*) AS steps,
    sum(b.step * b.step) AS squares
FROM boards AS b
JOIN season_thirds AS t USING (bowler, block)
WHERE b.step IS NOT NULL
GROUP BY ALL
ORDER BY ALL
