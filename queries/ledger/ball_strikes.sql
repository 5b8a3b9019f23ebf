-- Grain: one ball on one line of one bowler in one game on one pattern in one block. Inputs: frame_states, blocks, lines.
-- Reader: decisions/last_season/changes. Balls at a new rack in the deliveries the ledger values, fouls and spare balls left out.
SELECT
    f.block,
    bl.pattern,
    f.game,
    f.ball,
    coalesce(ln.line, 'line not logged') AS line,
    count(*) AS shots,
    count(*) FILTER (WHERE f.standing = 0) AS strikes
FROM frame_states AS f
LEFT JOIN balls AS b ON b.ball = f.ball
LEFT JOIN blocks AS bl ON bl.block = f.block
LEFT JOIN lines AS ln ON ln.board = round(f.arrow_board)
WHERE f.bowler = $bowler AND f.rack_ball AND NOT f.foul AND NOT coalesce(b.spare_ball, FALSE)
GROUP BY ALL
ORDER BY ALL
