-- Grain: one row, the version of this schema. Reader: intake, which refuses a database of another version.
CREATE TABLE IF NOT EXISTS schema_version (version INTEGER NOT NULL)
