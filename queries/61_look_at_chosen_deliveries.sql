-- Grain: one delivery. Input: chosen_deliveries. Readers: every query from 21 on that names deliveries.
CREATE OR REPLACE TEMP VIEW deliveries AS
SELECT * FROM chosen_deliveries
