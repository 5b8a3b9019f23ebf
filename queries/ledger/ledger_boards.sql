-- Grain: one ball of one bowler on one pattern x half entry board x one of at most 64 groups of nights. Inputs: first_balls, blocks.
-- Reader: pricing/ledger/entry_boards. A block is in one group, so that draws of nights are draws of groups.
WITH nights AS (
    SELECT block, pattern, (row_number() OVER (ORDER BY date, block) - 1) % 64 AS night FROM blocks
)

SELECT f.bowler, f.ball, n.pattern, f.entry_half, n.night, count(*) AS shots
FROM first_balls AS f
JOIN nights AS n USING (block)
WHERE f.entry_half IS NOT NULL
GROUP BY ALL
ORDER BY ALL
