-- Grain: one block that began within the period, or one of them. Inputs: deliveries, and period_dates, one row per period.
-- Readers: scope/held_thirds and the other queries of scope that show a period alone.
CREATE OR REPLACE TEMP TABLE period_blocks AS
WITH begun AS (
    SELECT block, min(date) AS date FROM deliveries GROUP BY block
)
SELECT b.block
FROM begun AS b
SEMI JOIN period_dates AS c ON b.date BETWEEN c.since AND c.until
