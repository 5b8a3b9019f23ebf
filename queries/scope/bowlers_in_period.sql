-- Grain: one bowler with at least one first delivery in the period. Inputs: deliveries, period_blocks. Reader: decisions/scope.
SELECT d.bowler, count(*) AS shots
FROM deliveries AS d
SEMI JOIN period_blocks USING (block)
WHERE d.first_ball
GROUP BY d.bowler
ORDER BY shots DESC, d.bowler
