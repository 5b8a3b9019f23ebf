-- Grain: one bowler with a delivery: first and last day logged. Input: deliveries. Reader: decisions/arsenal/verdicts.
SELECT bowler, min(date) AS first_day, max(date) AS last_day
FROM deliveries
GROUP BY bowler
ORDER BY bowler
