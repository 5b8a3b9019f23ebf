-- Grain: one leave that one bowler left or faced, as pins standing. Input: frame_states. Reader: pricing/ledger/deliveries.
SELECT DISTINCT bowler, unnest([facing, standing]) AS standing
FROM frame_states
ORDER BY ALL
