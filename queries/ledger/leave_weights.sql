-- Grain: one leave (pins standing) of one bowler x block, under one reference. Inputs: valued_deliveries, ledger_positions.
-- Reader: pricing/ledger_draws. made_worth: what making the spare is worth over missing it, its felled pins aside, summed over
-- the times it was left (leave_...) and over those it was then shot at (spare_...); second_times: the same of a pin.
SELECT
    v.reference,
    v.bowler,
    v.block,
    CASE WHEN v.rack_ball THEN v.standing ELSE v.facing END AS standing,
    coalesce(sum(m.after_spare - m.after_open) FILTER (WHERE v.rack_ball), 0) AS leave_made,
    coalesce(sum(m.second_times) FILTER (WHERE v.rack_ball), 0) AS leave_pins,
    coalesce(sum(m.after_spare - m.after_open) FILTER (WHERE NOT v.rack_ball AND NOT v.foul), 0) AS spare_made,
    coalesce(sum(m.second_times) FILTER (WHERE NOT v.rack_ball AND NOT v.foul), 0) AS spare_pins
FROM valued_deliveries AS v
JOIN ledger_positions AS m USING (reference, bowler, position)
WHERE NOT v.rack_ball OR (v.standing <> 0 AND NOT v.foul)
GROUP BY ALL
ORDER BY ALL
