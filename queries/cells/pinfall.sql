-- Grain: one pair of pin counts of one bowler: first delivery at a new rack, and the delivery after it in the same frame.
-- Input: deliveries. Reader: pricing/pinfall. second is null after a strike, and where the next ball was not logged.
WITH pairs AS (
    SELECT
        bowler,
        first_ball AND NOT foul AS counts,
        10 - bit_count(standing) AS first,
        CASE WHEN lead(frame) OVER in_order = frame AND standing <> 0
            THEN lead(bit_count(facing) - bit_count(standing)) OVER in_order
        END AS second
    FROM deliveries
    WINDOW in_order AS (PARTITION BY block, bowler, game ORDER BY frame, delivery)
)
SELECT bowler, first, second, count(*) AS shots
FROM pairs
WHERE counts
GROUP BY ALL
ORDER BY ALL
