-- Grain: one first delivery of a bowler shown. Inputs: first_balls, bowlers_shown. Reader: store/shown.
-- The load of a pair in it is still counted over everybody's deliveries.
CREATE OR REPLACE TEMP TABLE shown_first_balls AS
SELECT f.* FROM first_balls AS f SEMI JOIN bowlers_shown USING (bowler)
