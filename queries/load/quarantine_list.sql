-- Grain: one reason one row was set aside, in reading order. Input: quarantine. Reader: intake, quarantine CSV.
SELECT source_file, line, column_name, value, reason, mend, raw_row
FROM quarantine
ORDER BY source_file, line, column_name, reason
