-- Grain: one block of one bowler. Inputs: deliveries, period_blocks. Reader: scope/thirds_of_period.
-- third as in views/season_thirds, of the bowler's blocks within the period; null for all others.
CREATE OR REPLACE TEMP TABLE held_thirds AS
WITH theirs AS (
    SELECT d.bowler, d.block, min(d.date) AS date, bool_or(p.block IS NOT NULL) AS inside
    FROM deliveries AS d
    LEFT JOIN period_blocks AS p USING (block)
    GROUP BY d.bowler, d.block
)
SELECT
    bowler,
    block,
    CASE WHEN inside AND count(*) OVER (PARTITION BY bowler, inside) >= 3
        THEN ntile(3) OVER (PARTITION BY bowler, inside ORDER BY date, block) END AS third
FROM theirs
