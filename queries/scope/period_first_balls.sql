-- Grain: one first delivery of the period. Inputs: first_balls, period_blocks. Reader: scope/first_balls_in_period.
CREATE OR REPLACE TEMP TABLE period_first_balls AS
SELECT f.* FROM first_balls AS f SEMI JOIN period_blocks USING (block)
