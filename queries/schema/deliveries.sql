-- Grain: one delivery. Input: shots*.csv. Readers: intake, views.
-- Boards count from the bowler's own side and leaves are mirrored, so a left-hander's 7 pin is stored as the 10.
CREATE TABLE IF NOT EXISTS deliveries (
    date             DATE NOT NULL,
    block            VARCHAR NOT NULL,
    bowler           VARCHAR NOT NULL,
    lane             SMALLINT NOT NULL,
    game             SMALLINT NOT NULL,
    frame            SMALLINT NOT NULL,
    delivery         SMALLINT NOT NULL,  -- 1, 2, and 3 in the tenth
    ball             VARCHAR NOT NULL,
    laydown_board    FLOAT,
    arrow_board      FLOAT,
    breakpoint_board FLOAT,
    breakpoint_ft    FLOAT,
    entry_board      FLOAT,
    entry_angle_deg  FLOAT,
    speed_mph        FLOAT,
    rev_rpm          FLOAT,
    facing           SMALLINT NOT NULL,  -- pins standing before: bit p-1 set for pin p; 1023 is a full rack
    standing         SMALLINT NOT NULL,  -- pins standing after (for a foul: what the rules leave, the rack before)
    first_ball       BOOLEAN NOT NULL,   -- thrown at a newly set rack (not at one respotted after a foul)
    foul             BOOLEAN NOT NULL,
    repaired         BOOLEAN NOT NULL,   -- the leave was read back from a date
    note             VARCHAR,
    source_file      VARCHAR NOT NULL,
    line             BIGINT NOT NULL
)
