-- Grain: one reason for which rows were set aside, the three commonest first. Input: quarantine. Reader: intake.
SELECT count(DISTINCT (source_file, line)) AS rows, column_name, reason, mend
FROM quarantine
GROUP BY column_name, reason, mend
ORDER BY rows DESC, column_name, reason, mend
LIMIT 3
