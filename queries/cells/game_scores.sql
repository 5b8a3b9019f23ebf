-- Grain: one game of one bowler in one block. Inputs: deliveries, blocks, pattern_classes, phases.
-- Readers: decisions/season/summary. score is exact by the rules, null if the game is not complete: every ball counts its own
-- pins; a strike in frames 1-9 adds the next two balls, a spare there the next one; fill balls in the tenth count once.
WITH balls AS (
    SELECT
        block,
        bowler,
        game,
        frame,
        delivery,
        bit_count(facing) - bit_count(standing) AS felled,
        first_ball,
        standing,
        sum(felled) OVER (PARTITION BY block, bowler, game, frame ORDER BY delivery) AS so_far,
        count(*) OVER (PARTITION BY block, bowler, game, frame) AS thrown,
        lead(felled, 1) OVER in_order AS next_one,
        lead(felled, 2) OVER in_order AS next_two
    FROM deliveries
    WINDOW in_order AS (PARTITION BY block, bowler, game ORDER BY frame, delivery)
),
frames AS (
    SELECT
        block,
        bowler,
        game,
        frame,
        sum(felled)
        + coalesce(sum(CASE
            WHEN frame < 10 AND delivery = 1 AND felled = 10 THEN next_one + next_two
            WHEN frame < 10 AND delivery = 2 AND so_far = 10 THEN next_one
        END), 0) AS points,
        CASE
            WHEN frame < 10 THEN bool_or(delivery = 1 AND felled = 10 AND thrown = 1) OR (count(*) = 2 AND max(delivery) = 2)
            ELSE count(*) = 2 + max(CASE WHEN delivery <= 2 AND so_far >= 10 THEN 1 ELSE 0 END)
                AND max(delivery) = count(*)
        END AS complete
    FROM balls
    GROUP BY block, bowler, game, frame
)
SELECT
    f.bowler,
    f.block,
    b.date,
    coalesce(pc.pattern_class, 'unposted') AS pattern_class,
    f.game,
    ph.phase,
    CASE WHEN count(*) = 10 AND min(f.frame) = 1 AND max(f.frame) = 10 AND bool_and(f.complete) THEN sum(f.points)::INTEGER END
        AS score
FROM frames AS f
LEFT JOIN blocks AS b USING (block)
LEFT JOIN pattern_classes AS pc USING (pattern)
LEFT JOIN phases AS ph ON ph.game = f.game
GROUP BY ALL
ORDER BY ALL
