-- Grain: one frame of a bowler's complete games, with its first ball. Inputs: frame_states, first_balls, blocks, lines.
-- Reader: pricing/ledger/block_level. pair_load: deliveries on the pair before it, null for a foul.
SELECT
    f.bowler,
    f.block,
    bl.pattern,
    f.game,
    f.frame,
    f.ball,
    coalesce(ln.line, 'line not logged') AS line,
    fb.pair_load
FROM frame_states AS f
LEFT JOIN first_balls AS fb
    ON fb.bowler = f.bowler AND fb.block = f.block AND fb.game = f.game AND fb.frame = f.frame AND fb.delivery = f.delivery
LEFT JOIN blocks AS bl ON bl.block = f.block
LEFT JOIN lines AS ln ON ln.board = round(f.arrow_board)
WHERE f.complete AND f.delivery = 1
ORDER BY f.bowler, f.block, f.game, f.frame
