-- Grain: one bowler. Input: bowlers.csv. Readers: intake, views.
CREATE TABLE IF NOT EXISTS bowlers (
    bowler      VARCHAR PRIMARY KEY,
    name        VARCHAR NOT NULL,
    hand        VARCHAR NOT NULL CHECK (hand IN ('right', 'left')),
    style       VARCHAR NOT NULL CHECK (style IN ('one-handed', 'two-handed')),
    coach       VARCHAR,             -- who coaches the bowler, in the bowler's own words
    birth_year  INTEGER,             -- only to recognise minors
    source_file VARCHAR NOT NULL,
    line        BIGINT NOT NULL
)
