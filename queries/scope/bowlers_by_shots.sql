-- Grain: one bowler with at least one first delivery. Input: deliveries. Reader: decisions/scope.
SELECT bowler, count(*) AS shots
FROM deliveries
WHERE first_ball
GROUP BY bowler
ORDER BY shots DESC, bowler
