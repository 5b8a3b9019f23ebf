-- Grain: one bowler x block x pattern x game x ball x line x half entry board (null where not logged) x foul, under one
-- reference. Inputs: valued_deliveries, ledger_positions. Reader: pricing/ledger_draws. Sums over the balls at a new rack of
-- what a strike, a pin and a spare are worth there, of all of them and (open_...) of those that did not strike.
SELECT
    v.reference,
    v.bowler,
    v.block,
    v.pattern,
    v.game,
    v.ball,
    v.line,
    v.entry_half,
    v.foul,
    count(*) AS shots,
    count(*) FILTER (WHERE v.standing = 0) AS strikes,
    sum(10 * m.first_times + m.after_strike) AS strike,
    sum(m.first_times) AS first_pins,
    sum(m.second_times) AS second_pins,
    sum(m.after_spare) AS spare,
    sum(m.after_open) AS open,
    coalesce(sum(m.first_times) FILTER (WHERE v.standing <> 0), 0) AS open_first_pins,
    coalesce(sum(m.second_times) FILTER (WHERE v.standing <> 0), 0) AS open_second_pins,
    coalesce(sum(m.after_spare) FILTER (WHERE v.standing <> 0), 0) AS open_spare,
    coalesce(sum(m.after_open) FILTER (WHERE v.standing <> 0), 0) AS open_open
FROM valued_deliveries AS v
JOIN ledger_positions AS m USING (reference, bowler, position)
WHERE v.rack_ball
GROUP BY ALL
ORDER BY ALL
