-- Grain: one delivery. Input: shown_deliveries. Readers: every view and query of cells that names deliveries.
CREATE OR REPLACE TEMP VIEW deliveries AS
SELECT * FROM shown_deliveries
