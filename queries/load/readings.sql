-- Grain: one value of one column of one file that was read otherwise than written. Input: readings. Reader: intake.
SELECT source_file, column_name, value, read_as, rows FROM readings ORDER BY source_file, column_name, rows DESC, value
