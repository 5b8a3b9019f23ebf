-- Grain: one loaded file. Readers: intake (same content is not loaded twice), method page.
CREATE TABLE IF NOT EXISTS sources (
    source_file VARCHAR PRIMARY KEY,   -- its name, or the end of its path if another file has that name
    path        VARCHAR NOT NULL,      -- where it was when last loaded; from the database's folder if it lies below
    kind        VARCHAR NOT NULL,      -- shots, balls, bowlers, patterns, blocks, maintenance
    sha256      VARCHAR NOT NULL,
    rows_read   BIGINT NOT NULL,
    rows_kept   BIGINT NOT NULL,
    rows_quarantined BIGINT NOT NULL,
    rows_repaired    BIGINT NOT NULL,
    refused     VARCHAR,               -- why the whole file was refused; null if it was read
    loaded_at   TIMESTAMP NOT NULL,
    read_again  BOOLEAN NOT NULL       -- what it was checked against changed, so its next load reads it even if it did not
)
