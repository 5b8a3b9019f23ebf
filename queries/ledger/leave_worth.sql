-- Grain: none, a macro. Reader: ledger/valued_deliveries.
-- Expected pins from a rack's second ball to the end of the game, if the first ball left n pins: the spare is made
-- with chance s, and a miss fells m pins. c: a row of state values.
CREATE OR REPLACE TEMP MACRO leave_worth(n, s, m, c) AS
    (s * n + (1 - s) * m) * c.second_times + s * c.after_spare + (1 - s) * c.after_open
