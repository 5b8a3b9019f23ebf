-- Grain: one block. Input: first_balls. Reader: models/lines/entry_slope.
-- Sums of products of boards over shots with one ball, for two estimates of how entry moves with a board at the arrows.
-- before_*: the step of either board over two shots on one lane of a pair (the other lane's between them), times the
-- entry boards before them, about the bowler's own mean.
-- later_*: how either board differs from the mean of the next three on the lane, times how the arrow board differs from
-- the mean of the last three there.
WITH shots AS (
    SELECT
        bowler,
        block,
        lane = lag(lane, 2) OVER on_pair AS same_lane,
        arrow_board - lag(arrow_board, 2) OVER on_pair AS arrow_step,
        entry_board - lag(entry_board, 2) OVER on_pair AS entry_step,
        (lag(entry_board, 3) OVER on_pair + lag(entry_board, 4) OVER on_pair) / 2 AS before,
        arrow_board - avg(arrow_board) OVER (on_lane ROWS BETWEEN 3 PRECEDING AND 1 PRECEDING) AS moved,
        arrow_board - avg(CASE WHEN entry_board IS NOT NULL THEN arrow_board END)
            OVER (on_lane ROWS BETWEEN 1 FOLLOWING AND 3 FOLLOWING) AS arrow_later,
        entry_board - avg(CASE WHEN arrow_board IS NOT NULL THEN entry_board END)
            OVER (on_lane ROWS BETWEEN 1 FOLLOWING AND 3 FOLLOWING) AS entry_later
    FROM first_balls
    WINDOW
        on_pair AS (PARTITION BY block, bowler, pair, ball ORDER BY game, frame, delivery),
        on_lane AS (PARTITION BY block, bowler, lane, ball ORDER BY game, frame, delivery)
),
about_means AS (
    SELECT
        block,
        CASE WHEN same_lane THEN arrow_step END AS arrow_step,
        CASE WHEN same_lane THEN entry_step END AS entry_step,
        before - avg(before) FILTER (WHERE same_lane AND arrow_step IS NOT NULL AND entry_step IS NOT NULL)
            OVER (PARTITION BY bowler) AS before,
        CASE WHEN entry_later IS NOT NULL THEN moved - avg(moved) FILTER (WHERE entry_later IS NOT NULL) OVER () END AS moved,
        arrow_later,
        entry_later
    FROM shots
)
SELECT
    block,
    coalesce(sum(before * arrow_step) FILTER (WHERE entry_step IS NOT NULL), 0) AS before_arrow,
    coalesce(sum(before * entry_step) FILTER (WHERE arrow_step IS NOT NULL), 0) AS before_entry,
    coalesce(sum(moved * arrow_later), 0) AS later_arrow,
    coalesce(sum(moved * entry_later) FILTER (WHERE arrow_later IS NOT NULL), 0) AS later_entry
FROM about_means
GROUP BY block
ORDER BY block
