-- Grain: one ball. Input: chosen_balls. Readers: every query of cells that names balls.
CREATE OR REPLACE TEMP VIEW balls AS
SELECT * FROM chosen_balls
