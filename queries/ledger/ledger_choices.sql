-- Grain: one ball on one line that one bowler threw at a new rack in one game on one pattern. Inputs: frame_states, blocks,
-- patterns, pattern_classes, ball_classes, lines. Reader: pricing/ledger/stages. Fouls count: ball and line were chosen.
SELECT
    f.bowler,
    bl.pattern,
    coalesce(pc.pattern_class, 'unposted') AS pattern_class,
    p.length_ft,
    p.volume_ml,
    p.ratio,
    f.game,
    f.ball,
    bc.ball_class,
    coalesce(ln.line, 'line not logged') AS line,
    count(*) AS shots
FROM frame_states AS f
LEFT JOIN blocks AS bl USING (block)
LEFT JOIN patterns AS p USING (pattern)
LEFT JOIN pattern_classes AS pc USING (pattern)
LEFT JOIN ball_classes AS bc ON bc.ball = f.ball
LEFT JOIN lines AS ln ON ln.board = round(f.arrow_board)
WHERE f.rack_ball
GROUP BY ALL
ORDER BY ALL
