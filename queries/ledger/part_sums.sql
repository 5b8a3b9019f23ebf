-- Grain: one bowler x block under one reference. Input: valued_deliveries. Readers: pricing/ledger, decisions/ledger.
-- pins: credited. scored: pins plus what is still expected where a game is not logged to its end. expected: before each game's
-- first ball. scored = expected + the sum of all by_ columns, exactly.
SELECT
    reference,
    bowler,
    block,
    min(date) AS date,
    any_value(pattern_class) AS pattern_class,
    any_value(pattern) AS pattern,
    count(DISTINCT game) AS games,
    count(DISTINCT game) FILTER (WHERE complete) AS games_complete,
    count(*) FILTER (WHERE rack_ball) AS shots,
    sum(expected) FILTER (WHERE position = 1 AND rack_ball) AS expected,
    sum(expected) FILTER (WHERE position = 1 AND rack_ball) + sum(change) AS scored,
    sum(pins) FILTER (WHERE complete) AS pins_complete,
    sum(by_lane) AS by_lane,
    sum(by_ball) AS by_ball,
    sum(by_line) AS by_line,
    sum(by_entry) AS by_entry,
    sum(by_carry) AS by_carry,
    sum(by_entry_and_carry) AS by_entry_and_carry,
    sum(by_leave) AS by_leave,
    sum(by_spare) AS by_spare,
    sum(by_foul) AS by_foul,
    sum(by_order) AS by_order
FROM valued_deliveries
GROUP BY reference, bowler, block
ORDER BY reference, bowler, date, block
