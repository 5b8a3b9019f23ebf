-- Grain: one value of one column of one file that was read otherwise than written. Input: the load. Reader: intake.
CREATE TABLE IF NOT EXISTS readings (
    source_file VARCHAR NOT NULL,
    column_name VARCHAR NOT NULL,  -- 'row' for rows that are no records
    value       VARCHAR NOT NULL,  -- as written
    read_as     VARCHAR NOT NULL,  -- what it was taken for
    rows        BIGINT NOT NULL    -- rows kept (or skipped) with it
)
