-- Grain: one first delivery. Input: held_first_balls. Readers: every query from 31 on that names first_balls.
CREATE OR REPLACE TEMP VIEW first_balls AS
SELECT * FROM held_first_balls
