-- Grain: one id of a bowler, whose code is its number. Input: known_bowlers. Reader: load/stage_shots.
CREATE OR REPLACE TEMPORARY TYPE known_bowler AS ENUM (SELECT bowler FROM known_bowlers ORDER BY bowler_no)
