-- Grain: one act of care on one ball. Input: maintenance.csv. Readers: intake, views.
CREATE TABLE IF NOT EXISTS maintenance (
    date        DATE NOT NULL,
    ball        VARCHAR NOT NULL,
    action      VARCHAR NOT NULL CHECK (action IN ('clean', 'surface', 'resurface', 'oil extraction')),
    grit        INTEGER,              -- grit of the last step, where the surface was changed
    note        VARCHAR,
    source_file VARCHAR NOT NULL,
    line        BIGINT NOT NULL
)
