-- Grain: one block of one bowler. Input: deliveries. Readers: cells/board_steps, cells/spare_cells_by_block,
-- cells/strike_cells_by_block.
-- third: the bowler's own blocks in order of date, cut into three; null with under three.
CREATE OR REPLACE TEMP VIEW season_thirds AS
SELECT
    bowler,
    block,
    CASE WHEN count(*) OVER (PARTITION BY bowler) >= 3
        THEN ntile(3) OVER (PARTITION BY bowler ORDER BY min(date), block) END AS third
FROM deliveries
GROUP BY bowler, block
