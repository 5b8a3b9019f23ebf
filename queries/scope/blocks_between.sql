-- Grain: one block that began on a day from since to until. Input: deliveries. Reader: store/shown.
-- Parameters: since, until (dates).
SELECT block
FROM deliveries
GROUP BY block
HAVING min(date) BETWEEN $since AND $until
