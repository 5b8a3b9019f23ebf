-- Grain: one delivery of a chosen bowler. Inputs: deliveries, chosen. Reader: store/shown.
CREATE OR REPLACE TEMP TABLE chosen_deliveries AS
SELECT d.* FROM deliveries AS d SEMI JOIN chosen USING (bowler)
