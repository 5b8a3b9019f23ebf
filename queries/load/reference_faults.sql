-- Grain: one reason one row of a reference file was set aside, in reading order, five at most. Inputs: quarantine, sources.
-- Reader: intake. Rows that only wait for another reference row ("unknown ...") are left out: mending that one mends them.
SELECT q.source_file, q.line, q.column_name, q.value, q.reason, q.mend
FROM quarantine AS q
JOIN sources AS s USING (source_file)
WHERE s.kind <> 'shots' AND NOT starts_with(q.reason, 'unknown ')
ORDER BY list_position(['bowlers', 'balls', 'patterns', 'blocks', 'maintenance'], s.kind), q.line, q.column_name
LIMIT 5
