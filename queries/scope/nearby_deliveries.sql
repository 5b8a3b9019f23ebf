-- Grain: one delivery, by anybody, of a block that a bowler shown bowled in. Inputs: deliveries, bowlers_shown.
-- Reader: store/shown, for a large season: the load of a pair needs these and no others.
CREATE OR REPLACE TEMP TABLE near_deliveries AS
SELECT d.*
FROM deliveries AS d
SEMI JOIN (SELECT c.block FROM deliveries AS c SEMI JOIN bowlers_shown USING (bowler)) AS theirs ON theirs.block = d.block
