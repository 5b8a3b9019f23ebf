-- Grain: none, a macro. Reader: ledger/valued_deliveries.
-- Expected pins from a new rack to the end of the game, if its first ball strikes with chance p, its second makes the spare
-- with chance s, and f and t are the mean pins of both balls without a strike. c: a row of state values.
CREATE OR REPLACE TEMP MACRO rack_worth(p, s, f, t, c) AS
    p * (10 * c.first_times + c.after_strike)
    + (1 - p) * (f * c.first_times + t * c.second_times + s * c.after_spare + (1 - s) * c.after_open)
