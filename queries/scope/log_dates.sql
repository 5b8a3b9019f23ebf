-- Grain: one row. Input: deliveries. Reader: decisions/period. Null where nothing is logged.
SELECT min(date) AS first_date, max(date) AS last_date
FROM deliveries
