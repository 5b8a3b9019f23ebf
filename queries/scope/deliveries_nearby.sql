-- Grain: one delivery. Input: near_deliveries. Readers: scope/scoped_first_balls, through first_balls, and scope/scoped_deliveries.
CREATE OR REPLACE TEMP VIEW deliveries AS
SELECT * FROM near_deliveries
