-- Grain: one posted oil pattern. Input: patterns.csv. Readers: intake, views.
CREATE TABLE IF NOT EXISTS patterns (
    pattern     VARCHAR PRIMARY KEY,
    name        VARCHAR NOT NULL,
    length_ft   DOUBLE,               -- null for a pattern that goes by a name only: unposted
    volume_ml   DOUBLE,
    ratio       DOUBLE,               -- inside : outside, as a number (3.5 for 3.5:1)
    source_file VARCHAR NOT NULL,
    line        BIGINT NOT NULL
)
