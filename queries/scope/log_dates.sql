-- Grain: one row. Input: deliveries. Reader: store/shown. Null if nothing is logged.
SELECT min(date) AS first_date, max(date) AS last_date
FROM deliveries
