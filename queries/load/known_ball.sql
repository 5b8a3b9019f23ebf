-- Grain: one id of a ball, whose code is its number. Input: known_balls. Reader: load/stage_shots.
CREATE OR REPLACE TEMPORARY TYPE known_ball AS ENUM (SELECT ball FROM known_balls ORDER BY ball_no)
