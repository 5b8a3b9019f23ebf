-- Grain: one first delivery. Input: period_first_balls. Readers: every query of cells that names first_balls.
CREATE OR REPLACE TEMP VIEW first_balls AS
SELECT * FROM period_first_balls
