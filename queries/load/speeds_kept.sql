-- Grain: one shots file with speeds among its kept rows. Input: deliveries. Reader: intake.
SELECT source_file, count(speed_mph)
FROM deliveries
WHERE source_file IN (SELECT unnest(?::VARCHAR[]))
GROUP BY source_file
