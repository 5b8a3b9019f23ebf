-- Grain: one reference x bowler x block x pattern x game x ball x line x half entry board (null if not logged) x foul, of
-- complete games. Inputs: valued_deliveries, ledger_positions. Reader: pricing/ledger/sums.
-- by_...: parts of the balls at a new rack. strike, first_pins, second_pins, spare, open: what a strike, a pin of either ball, a
-- spare and a miss are worth there, summed over these balls; open_...: the same over those that did not strike.
SELECT
    v.reference,
    v.bowler,
    v.block,
    v.pattern,
    any_value(v.pattern_class) AS pattern_class,
    v.game,
    v.ball,
    v.line,
    v.entry_half,
    any_value(v.entry_zone) AS entry_zone,
    v.foul,
    count(*) AS shots,
    sum(10 * m.first_times + m.after_strike) AS strike,
    sum(m.first_times) AS first_pins,
    sum(m.second_times) AS second_pins,
    sum(m.after_spare) AS spare,
    sum(m.after_open) AS open,
    coalesce(sum(m.first_times) FILTER (WHERE v.standing <> 0), 0) AS open_first_pins,
    coalesce(sum(m.second_times) FILTER (WHERE v.standing <> 0), 0) AS open_second_pins,
    coalesce(sum(m.after_spare) FILTER (WHERE v.standing <> 0), 0) AS open_spare,
    coalesce(sum(m.after_open) FILTER (WHERE v.standing <> 0), 0) AS open_open,
    sum(v.by_lane) AS by_lane,
    sum(v.by_ball) AS by_ball,
    sum(v.by_line) AS by_line,
    sum(v.by_entry) AS by_entry,
    sum(v.by_carry) AS by_carry,
    sum(v.by_entry_and_carry) AS by_entry_and_carry,
    sum(v.by_leave) AS by_leave,
    sum(v.by_spare) AS by_spare,
    sum(v.by_foul) AS by_foul,
    sum(v.by_order) AS by_order
FROM valued_deliveries AS v
JOIN ledger_positions AS m USING (reference, bowler, position)
WHERE v.complete AND v.rack_ball
GROUP BY v.reference, v.bowler, v.block, v.pattern, v.game, v.ball, v.line, v.entry_half, v.foul
ORDER BY v.reference, v.bowler, v.block, v.pattern, v.game, v.ball, v.line, v.entry_half, v.foul
