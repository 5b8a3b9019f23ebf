-- Grain: one delivery of the ledger under one reference. Input: valued_deliveries. Reader: pricing/ledger/deliveries, to keep them.
SELECT * FROM valued_deliveries
