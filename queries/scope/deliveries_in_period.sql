-- Grain: one delivery. Input: period_deliveries. Readers: every view and query of cells that names deliveries.
CREATE OR REPLACE TEMP VIEW deliveries AS
SELECT * FROM period_deliveries
