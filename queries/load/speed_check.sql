-- Grain: one shots file out of $files that was logged in km/h: of enough speeds, nine in ten exceed $too_fast. A speed with its
-- unit behind it does not count. Inputs: staged_shots, and the fewest speeds as $enough. Reader: intake.
SELECT file_no
FROM staged_shots
WHERE speed_mph IS NOT NULL
    AND coalesce(NOT list_contains(list_transform(readings, lambda cell: cell.column_name), 'speed_mph'), true)
GROUP BY file_no
HAVING count(*) >= $enough
    AND count(*) FILTER (WHERE speed_mph > $too_fast) >= 0.9 * count(*)
    AND file_no IN (SELECT unnest($files::INTEGER[]))
