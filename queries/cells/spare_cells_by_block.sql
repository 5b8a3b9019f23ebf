-- Grain: one leave of one bowler in one block. Inputs: deliveries, leave_types. Reader: models/skills/skill.
-- A spare attempt is any delivery at fewer than ten pins; leaves are mirrored. third as in cells/pocket_cells.
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
