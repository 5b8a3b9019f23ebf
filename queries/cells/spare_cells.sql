-- Grain: one leave of one bowler (mirrored) in one stretch of nights. Inputs: deliveries, leave_types, block_stretches.
-- Reader: models/spares/spare. A spare attempt is any delivery at fewer than ten pins; pins_left is the sum still
-- standing after it. Skills need the block: cells/spare_cells_by_block. The rates learn from a whole club's log, which
-- has many times as many cells by block.
SELECT
    d.bowler,
    s.stretch,
    lt.leave,
    lt.leave_type,
    count(*) AS attempts,
    count(*) FILTER (WHERE d.standing = 0 AND NOT d.foul) AS made,
    sum(bit_count(d.standing)) AS pins_left
FROM deliveries AS d
JOIN leave_types AS lt ON lt.standing = d.facing
JOIN block_stretches AS s ON s.block = d.block
WHERE NOT d.first_ball AND d.facing <> 1023
GROUP BY ALL
ORDER BY ALL
