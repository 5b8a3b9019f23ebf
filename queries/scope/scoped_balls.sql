-- Grain: one ball of a bowler shown. Inputs: balls, bowlers_shown. Reader: store/shown.
CREATE OR REPLACE TEMP TABLE shown_balls AS
SELECT b.* FROM balls AS b SEMI JOIN bowlers_shown USING (bowler)
