-- Grain: one row of a shots file while it is checked. Inputs: shots*.csv through load/stage_shots. Readers: the other queries of load.
-- ``faults`` has a bit for every rule the row breaks by itself, see pipeline/intake/checks/faults.py; frame_key packs
-- file, block, bowler, game and frame and is null if one of them is unknown.
CREATE OR REPLACE TEMP TABLE staged_shots (
    file_no          INTEGER,
    line             BIGINT,  -- null in a file read as it is: two more than the rows of the file before it
    frame_key        BIGINT,
    date_text        VARCHAR,
    block_no         INTEGER,
    bowler_no        INTEGER,
    ball_no          INTEGER,
    lane             SMALLINT,
    game             SMALLINT,
    frame            SMALLINT,
    delivery         SMALLINT,
    laydown_board    FLOAT,
    arrow_board      FLOAT,
    breakpoint_board FLOAT,
    breakpoint_ft    FLOAT,
    entry_board      FLOAT,
    entry_angle_deg  FLOAT,
    speed_mph        FLOAT,
    rev_rpm          FLOAT,
    leave_text       VARCHAR,
    foul             BOOLEAN,
    note             VARCHAR,
    faults           INTEGER,
    -- cells read otherwise than written; null in nearly every row
    readings         STRUCT(column_name VARCHAR, value VARCHAR, read_as VARCHAR)[]
)
