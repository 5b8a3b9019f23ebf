-- Grain: one cause for which rows were set aside, with the value written, the commonest first.
-- Inputs: quarantine, sources. Reader: intake, `rackledger check`. Faults of reference rows come first, because other rows wait
-- for these; rows that only wait for an earlier row of their frame come last.
SELECT
    count(DISTINCT (source_file, line)) AS rows,
    column_name,
    value,
    reason,
    mend,
    min(source_file) AS source_file,
    arg_min(line, (source_file, line)) AS line
FROM quarantine
JOIN sources USING (source_file)
GROUP BY column_name, value, reason, mend
ORDER BY
    bool_or(kind <> 'shots') AND NOT starts_with(reason, 'unknown ') DESC,
    starts_with(reason, 'delivery '),
    rows DESC, column_name, value
