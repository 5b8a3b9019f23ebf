-- Grain: one bowler: first deliveries that left something, and those that left one pin. Input: deliveries.
-- Reader: intake.
SELECT bowler, count(*) AS leaves, count(*) FILTER (WHERE bit_count(standing) = 1) AS single
FROM deliveries
WHERE first_ball AND standing <> 0 AND NOT foul
GROUP BY bowler
ORDER BY bowler
