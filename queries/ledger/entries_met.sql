-- Grain: one half entry board of one ball on one line that one bowler threw in one game on one pattern.
-- Inputs: frame_states, blocks, lines. Reader: pricing/ledger/deliveries.
SELECT DISTINCT
    f.bowler,
    bl.pattern,
    f.game,
    f.ball,
    coalesce(ln.line, 'line not logged') AS line,
    round(f.entry_board * 2) / 2 AS entry_half
FROM frame_states AS f
LEFT JOIN blocks AS bl USING (block)
LEFT JOIN lines AS ln ON ln.board = round(f.arrow_board)
WHERE f.rack_ball AND NOT f.foul AND f.entry_board IS NOT NULL
ORDER BY ALL
