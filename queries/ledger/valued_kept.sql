-- Grain: one delivery of the ledger under one reference. Input: kept_valued_rows, the rows of ledger/valued_rows as they were
-- kept, whose dates are times. Reader: pricing/ledger/deliveries.
CREATE OR REPLACE TEMP TABLE held_valued_deliveries AS
SELECT * REPLACE (CAST(date AS DATE) AS date) FROM kept_valued_rows
