-- Grain: one first delivery. Input: shown_first_balls. Readers: every query of cells that names first_balls.
CREATE OR REPLACE TEMP VIEW first_balls AS
SELECT * FROM shown_first_balls
