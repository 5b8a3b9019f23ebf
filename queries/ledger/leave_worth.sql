-- Grain: none, a macro. Reader: ledger/valued_deliveries.
-- Expected pins after a rack's first ball that left n pins to the end of the game, its own pins not counted: the spare is made
-- with chance s, and a miss fells m pins. c: a row of state values.
CREATE OR REPLACE TEMP MACRO leave_worth(n, s, m, c) AS
    (s * n + (1 - s) * m) * c.second_times + s * c.after_spare + (1 - s) * c.after_open
