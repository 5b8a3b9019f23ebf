-- Grain: one delivery. Input: near_deliveries. Readers: 60_chosen_first_balls, through first_balls, and 61.
CREATE OR REPLACE TEMP VIEW deliveries AS
SELECT * FROM near_deliveries
