-- Grain: one delivery of the ledger under one reference. Input: valued_deliveries. Reader: pricing/ledger/deliveries.
-- The view's rows computed once, for a season of usual size; a large one stays a view.
CREATE OR REPLACE TEMP TABLE held_valued_deliveries AS
SELECT * FROM valued_deliveries
