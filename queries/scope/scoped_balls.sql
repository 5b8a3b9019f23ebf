-- Grain: one ball of a chosen bowler. Inputs: balls, chosen. Reader: store/shown.
CREATE OR REPLACE TEMP TABLE chosen_balls AS
SELECT b.* FROM balls AS b SEMI JOIN chosen USING (bowler)
