-- Grain: one loaded shots file whose checks depend on something that changed. Inputs: deliveries, quarantine.
-- Reader: intake. $changed are ids of bowlers, balls and blocks that changed or went, $came those that came or changed;
-- $clash is how the reason starts where another file holds the same frame.
SELECT DISTINCT source_file
FROM deliveries
WHERE len($changed::VARCHAR[]) > 0
    AND (
        block IN (SELECT unnest($changed::VARCHAR[]))
        OR bowler IN (SELECT unnest($changed::VARCHAR[]))
        OR ball IN (SELECT unnest($changed::VARCHAR[]))
    )
UNION
SELECT DISTINCT source_file
FROM quarantine
WHERE (column_name IN ('block', 'bowler', 'ball') AND value IN (SELECT unnest($came::VARCHAR[])))
    OR (column_name = 'date' AND $days_changed)
    OR (column_name = 'frame' AND starts_with(reason, $clash) AND $shots_changed)
