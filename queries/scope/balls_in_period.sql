-- Grain: one ball. Input: period_balls. Readers: every query of cells that names balls.
CREATE OR REPLACE TEMP VIEW balls AS
SELECT * FROM period_balls
