-- Grain: one reason one row was set aside. Readers: intake, method page, quarantine CSV.
CREATE TABLE IF NOT EXISTS quarantine (
    source_file VARCHAR NOT NULL,
    line        BIGINT NOT NULL,
    column_name VARCHAR NOT NULL,
    value       VARCHAR,
    reason      VARCHAR NOT NULL,      -- what was expected
    mend        VARCHAR NOT NULL,      -- how to put it right
    raw_row     VARCHAR NOT NULL       -- the whole row as it was read
)
