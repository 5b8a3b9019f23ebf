-- Grain: one leave of one bowler in one block. Inputs: deliveries, leave_types. Reader: models/skill.
-- A spare attempt is any delivery at fewer than ten pins; leaves are mirrored. third as in 45.
WITH thirds AS (
    SELECT
        bowler,
        block,
        CASE WHEN count(*) OVER (PARTITION BY bowler) >= 3
            THEN ntile(3) OVER (PARTITION BY bowler ORDER BY min(date), block) END AS third
    FROM deliveries
    GROUP BY bowler, block
)
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
JOIN thirds AS t USING (bowler, block)
JOIN leave_types AS lt ON lt.standing = d.facing
WHERE NOT d.first_ball AND d.facing <> 1023
GROUP BY ALL
ORDER BY ALL
