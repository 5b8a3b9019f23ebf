-- Grain: one block of one bowler. Inputs: deliveries, and period_dates, one row per stretch with its place as third.
-- Reader: scope/seasons_as_thirds. third: 1 in the season before, 3 in the season reported, null outside both.
CREATE OR REPLACE TEMP TABLE held_seasons AS
WITH begun AS (
    SELECT block, min(date) AS date FROM deliveries GROUP BY block
),
theirs AS (
    SELECT DISTINCT bowler, block FROM deliveries
)
SELECT t.bowler, t.block, c.third
FROM theirs AS t
JOIN begun AS b USING (block)
LEFT JOIN period_dates AS c ON b.date BETWEEN c.since AND c.until
