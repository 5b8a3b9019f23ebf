-- Grain: one first delivery. Input: chosen_first_balls. Readers: every query from 31 to 57 that names first_balls.
CREATE OR REPLACE TEMP VIEW first_balls AS
SELECT * FROM chosen_first_balls
