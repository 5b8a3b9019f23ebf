-- Grain: one ball. Input: shown_balls. Readers: every query of cells that names balls.
CREATE OR REPLACE TEMP VIEW balls AS
SELECT * FROM shown_balls
