-- Grain: one bowler, and one bowler in one file (source_file null for all files): first deliveries that left something, and
-- those that left one pin. Input: deliveries. Reader: intake.
SELECT bowler, source_file, count(*) AS leaves, count(*) FILTER (WHERE bit_count(standing) = 1) AS single
FROM deliveries
WHERE first_ball AND standing <> 0 AND NOT foul
GROUP BY GROUPING SETS ((bowler), (bowler, source_file))
ORDER BY bowler, source_file NULLS FIRST
