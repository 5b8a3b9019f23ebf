-- Grain: one block (one session of consecutive games on one oiling). Input: blocks.csv. Readers: intake, views.
CREATE TABLE IF NOT EXISTS blocks (
    block       VARCHAR PRIMARY KEY,
    date        DATE NOT NULL,
    pattern     VARCHAR,              -- null if it was not posted
    event       VARCHAR,
    centre      VARCHAR,
    source_file VARCHAR NOT NULL,
    line        BIGINT NOT NULL
)
