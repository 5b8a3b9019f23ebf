-- The ids of bowlers, each with its number as code. Input: known_bowlers. Reader: load/stage_shots.
CREATE OR REPLACE TEMPORARY TYPE known_bowler AS ENUM (SELECT bowler FROM known_bowlers ORDER BY bowler_no)
