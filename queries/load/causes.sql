-- Grain: one cause for which rows were set aside, with the value written, the commonest first.
-- Input: quarantine. Reader: intake, `rackledger check`. Rows that only wait for an earlier row of their frame come last.
SELECT
    count(DISTINCT (source_file, line)) AS rows,
    column_name,
    value,
    reason,
    mend,
    min(source_file) AS source_file,
    arg_min(line, (source_file, line)) AS line
FROM quarantine
GROUP BY column_name, value, reason, mend
ORDER BY starts_with(reason, 'delivery '), rows DESC, column_name, value
