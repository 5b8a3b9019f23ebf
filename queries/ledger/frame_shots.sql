-- Grain: one frame of one bowler's complete games, with its first ball. Inputs: frame_states, blocks, lines.
-- Reader: pricing/block_level.
SELECT
    f.block,
    bl.pattern,
    f.game,
    f.frame,
    f.ball,
    coalesce(ln.line, 'line not logged') AS line
FROM frame_states AS f
LEFT JOIN blocks AS bl USING (block)
LEFT JOIN lines AS ln ON ln.board = round(f.arrow_board)
WHERE f.bowler = $bowler AND f.complete AND f.delivery = 1
ORDER BY f.block, f.game, f.frame
