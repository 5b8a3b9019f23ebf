-- Grain: one delivery of a bowler shown. Inputs: deliveries, bowlers_shown. Reader: store/shown.
CREATE OR REPLACE TEMP TABLE shown_deliveries AS
SELECT d.* FROM deliveries AS d SEMI JOIN bowlers_shown USING (bowler)
