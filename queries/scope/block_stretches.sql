-- Grain: one block. Input: deliveries, of the whole log. Readers: models/strikes/stretches, as cells/block_stretches.
-- stretch: first day of the stretch of nights the block lies in. One begins after sixty days on which nobody bowled, and after a
-- year without such a break. Counted over the whole log, whatever a report shows.
CREATE OR REPLACE TEMP TABLE block_stretches AS
WITH begun AS (
    SELECT block, min(date) AS date FROM deliveries GROUP BY block
),
breaks AS (
    SELECT *, coalesce(date - lag(date) OVER (ORDER BY date, block), 0) >= 60 AS rested FROM begun
),
runs AS (
    SELECT *, sum(rested::INTEGER) OVER (ORDER BY date, block) AS run FROM breaks
),
years AS (
    SELECT *, (date - min(date) OVER (PARTITION BY run)) // 365 AS year FROM runs
)
SELECT block, strftime(min(date) OVER (PARTITION BY run, year), '%Y-%m-%d') AS stretch
FROM years
