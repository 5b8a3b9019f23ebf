-- Grain: one frame of one complete game, with its first ball. Inputs: frame_states, blocks, lines. Reader: pricing/same_shots.
SELECT
    f.bowler,
    f.block,
    bl.pattern,
    f.game,
    f.frame,
    f.ball,
    coalesce(ln.line, 'line not logged') AS line,
    CASE WHEN NOT f.foul THEN round(f.entry_board * 2) / 2 END AS entry_half
FROM frame_states AS f
LEFT JOIN blocks AS bl USING (block)
LEFT JOIN lines AS ln ON ln.board = round(f.arrow_board)
WHERE f.complete AND f.delivery = 1
ORDER BY f.bowler, f.block, f.game, f.frame
