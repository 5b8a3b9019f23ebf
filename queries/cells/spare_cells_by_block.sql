-- Grain: one leave of one bowler in one block. Inputs: deliveries, leave_types. Reader: models/skills/skill.
-- Spare attempts as in cells/spare_cells, by block and not by stretch, since a skill is predicted for a block of average
-- luck. third as in cells/strike_cells_by_block.
SELECT
    d.bowler,
    d.block,
    t.third,
    lt.leave,
    lt.leave_type,
    bit_count(d.facing) AS pins,
    count(*) AS attempts,
    count(*) FILTER (WHERE d.standing = 0 AND NOT d.foul) AS made
FROM deliveries AS d
JOIN season_thirds AS t USING (bowler, block)
JOIN leave_types AS lt ON lt.standing = d.facing
WHERE NOT d.first_ball AND d.facing <> 1023
GROUP BY ALL
ORDER BY ALL
