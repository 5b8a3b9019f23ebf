-- Grain: one first delivery of a chosen bowler. Inputs: first_balls, chosen. Reader: store/shown.
-- The load of a pair in it is still counted over everybody's deliveries.
CREATE OR REPLACE TEMP TABLE chosen_first_balls AS
SELECT f.* FROM first_balls AS f SEMI JOIN chosen USING (bowler)
