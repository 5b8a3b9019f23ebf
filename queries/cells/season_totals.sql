-- Grain: one row. Inputs: deliveries, sources. Reader: decisions/season/summary.
-- A share is over deliveries at a newly set rack; null if there is none.
SELECT
    min(date) AS first_date,
    max(date) AS last_date,
    count(DISTINCT block) AS blocks,
    count(DISTINCT (block, bowler, game)) AS games,
    count(*) AS deliveries,
    (SELECT coalesce(sum(rows_read), 0) FROM sources WHERE kind = 'shots') AS rows_read,
    (SELECT coalesce(sum(rows_quarantined), 0) FROM sources) AS rows_quarantined,
    (SELECT coalesce(sum(rows_repaired), 0) FROM sources) AS rows_repaired,
    avg((laydown_board IS NOT NULL)::INTEGER) FILTER (WHERE first_ball) AS laydown_board,
    avg((arrow_board IS NOT NULL)::INTEGER) FILTER (WHERE first_ball) AS arrow_board,
    avg((breakpoint_board IS NOT NULL)::INTEGER) FILTER (WHERE first_ball) AS breakpoint_board,
    avg((breakpoint_ft IS NOT NULL)::INTEGER) FILTER (WHERE first_ball) AS breakpoint_ft,
    avg((entry_board IS NOT NULL)::INTEGER) FILTER (WHERE first_ball) AS entry_board,
    avg((entry_angle_deg IS NOT NULL)::INTEGER) FILTER (WHERE first_ball) AS entry_angle_deg,
    avg((speed_mph IS NOT NULL)::INTEGER) FILTER (WHERE first_ball) AS speed_mph,
    avg((rev_rpm IS NOT NULL)::INTEGER) FILTER (WHERE first_ball) AS rev_rpm
FROM deliveries
