-- Grain: one shots file with leaves read back from dates. Input: deliveries. Reader: intake.
SELECT source_file, count(*)
FROM deliveries
WHERE repaired AND source_file IN (SELECT unnest(?::VARCHAR[]))
GROUP BY source_file
