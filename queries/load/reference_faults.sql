-- Grain: one reason one row of a reference file was set aside, in reading order, five at most. Input: quarantine.
-- Reader: intake. Rows that only wait for another reference row ("unknown ...") are left out: mending that one mends them.
SELECT source_file, line, column_name, value, reason, mend
FROM quarantine
WHERE source_file IN ('bowlers.csv', 'balls.csv', 'patterns.csv', 'blocks.csv', 'maintenance.csv')
    AND NOT starts_with(reason, 'unknown ')
ORDER BY list_position(['bowlers.csv', 'balls.csv', 'patterns.csv', 'blocks.csv', 'maintenance.csv'], source_file), line, column_name
LIMIT 5
