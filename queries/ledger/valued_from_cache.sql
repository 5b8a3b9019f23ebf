-- Grain: one delivery of the ledger under one reference. Input: held_valued_deliveries. Readers: as of valued_deliveries.
CREATE OR REPLACE TEMP VIEW valued_deliveries AS
SELECT * FROM held_valued_deliveries
