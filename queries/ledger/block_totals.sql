-- Grain: one reference x bowler x block, complete games alone. Input: valued_deliveries. Reader: pricing/ledger/sums.
-- expected: before each game's first ball, summed; scored: the games' scores, summed. scored = expected + every part, exactly.
SELECT
    reference,
    bowler,
    block,
    min(date) AS date,
    any_value(pattern_class) AS pattern_class,
    any_value(pattern) AS pattern,
    count(DISTINCT game) AS games,
    count(*) FILTER (WHERE rack_ball) AS shots,
    sum(expected) FILTER (WHERE position = 1 AND rack_ball) AS expected,
    sum(pins) AS scored
FROM valued_deliveries
WHERE complete
GROUP BY reference, bowler, block
ORDER BY reference, bowler, date, block
