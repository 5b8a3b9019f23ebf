-- Grain: one delivery of the period. Inputs: deliveries, period_blocks. Reader: scope/deliveries_in_period.
CREATE OR REPLACE TEMP TABLE period_deliveries AS
SELECT d.* FROM deliveries AS d SEMI JOIN period_blocks USING (block)
