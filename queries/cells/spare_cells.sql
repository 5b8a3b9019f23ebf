-- Grain: one leave of one bowler (mirrored). Input: deliveries, leave_types. Reader: models/spares/spare.
-- A spare attempt is any delivery at fewer than ten pins; pins_left is the sum still standing after it.
SELECT
    d.bowler,
    lt.leave,
    lt.leave_type,
    count(*) AS attempts,
    count(*) FILTER (WHERE d.standing = 0 AND NOT d.foul) AS made,
    sum(bit_count(d.standing)) AS pins_left
FROM deliveries AS d
JOIN leave_types AS lt ON lt.standing = d.facing
WHERE NOT d.first_ball AND d.facing <> 1023
GROUP BY ALL
ORDER BY ALL
