-- Grain: one ball of one bowler. Input: balls.csv. Readers: intake, views.
CREATE TABLE IF NOT EXISTS balls (
    ball         VARCHAR PRIMARY KEY,  -- id, unique over all bowlers
    bowler       VARCHAR NOT NULL,     -- owner
    name         VARCHAR NOT NULL,     -- what the bowler calls it
    cover        VARCHAR NOT NULL CHECK (cover IN ('polyester', 'urethane', 'pearl', 'hybrid', 'solid')),
    core         VARCHAR NOT NULL CHECK (core IN ('symmetric', 'asymmetric')),
    rg_in        DOUBLE,               -- radius of gyration, inches
    diff_in      DOUBLE,               -- differential, inches
    int_diff_in  DOUBLE,               -- intermediate differential, inches
    layout       VARCHAR,
    surface_grit INTEGER,              -- grit of the last step when the season began
    benchmark    BOOLEAN NOT NULL,     -- the bowler's benchmark ball
    spare_ball   BOOLEAN NOT NULL,
    games_before DOUBLE NOT NULL,      -- games on the ball before the log begins
    source_file  VARCHAR NOT NULL,
    line         BIGINT NOT NULL
)
