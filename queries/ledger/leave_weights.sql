-- Grain: one reference x bowler x block x leave (pins standing), of complete games. Inputs: valued_deliveries,
-- ledger_positions. Reader: pricing/ledger/sums. by_...: parts of the balls thrown at the leave. made_worth: what making the
-- spare is worth over missing it, its felled pins aside, summed over the times it was left (leave_...) and over those it was shot
-- at (spare_...); ..._pins: the same of a pin.
SELECT
    v.reference,
    v.bowler,
    v.block,
    CASE WHEN v.rack_ball THEN v.standing ELSE v.facing END AS standing,
    count(*) FILTER (WHERE NOT v.rack_ball) AS shots,
    coalesce(sum(m.after_spare - m.after_open) FILTER (WHERE v.rack_ball), 0) AS leave_made,
    coalesce(sum(m.second_times) FILTER (WHERE v.rack_ball), 0) AS leave_pins,
    coalesce(sum(m.after_spare - m.after_open) FILTER (WHERE NOT v.rack_ball AND NOT v.foul), 0) AS spare_made,
    coalesce(sum(m.second_times) FILTER (WHERE NOT v.rack_ball AND NOT v.foul), 0) AS spare_pins,
    coalesce(sum(v.by_spare) FILTER (WHERE NOT v.rack_ball), 0) AS by_spare,
    coalesce(sum(v.by_foul) FILTER (WHERE NOT v.rack_ball), 0) AS by_foul,
    coalesce(sum(v.by_order) FILTER (WHERE NOT v.rack_ball), 0) AS by_order
FROM valued_deliveries AS v
JOIN ledger_positions AS m USING (reference, bowler, position)
WHERE
    v.complete
    AND (NOT v.rack_ball OR (v.standing <> 0 AND NOT v.foul))
GROUP BY ALL
ORDER BY ALL
