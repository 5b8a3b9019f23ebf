-- Grain: one first delivery at a newly set rack, fouls left out (they say nothing of strikes).
-- Inputs: deliveries, bowlers, balls, blocks, patterns, and the small tables that pipeline/sport fills from settings:
--   ball_classes(ball, ball_class, rg_class, diff_class, surface_class), pattern_classes(pattern, pattern_class),
--   lines(board, line), entry_zones(half_board, zone), leave_types(standing, leave, leave_type), phases(game, phase).
-- Readers: every query of cells that names it. The load of a pair is counted over everybody's deliveries in the block, as oil is.
CREATE OR REPLACE TEMP VIEW first_balls AS
WITH on_pair AS (
    SELECT
        *,
        (lane + 1) // 2 AS pair,
        count(*) OVER (
            PARTITION BY block, (lane + 1) // 2 ORDER BY game, frame, lane, bowler, delivery
            ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING
        ) AS pair_load
    FROM deliveries
)
SELECT
    d.date,
    d.block,
    bl.pattern,                                           -- null if it was not posted
    coalesce(pc.pattern_class, 'unposted') AS pattern_class,
    p.length_ft,
    p.volume_ml,
    p.ratio,
    d.bowler,
    b.hand,
    b.style,
    d.lane,
    d.pair,
    d.pair_load,
    d.game,
    ph.phase,
    d.frame,
    d.delivery,
    d.ball,
    bc.ball_class,
    ln.line,                                              -- null if the arrow board was not logged
    d.laydown_board,
    d.arrow_board,
    d.breakpoint_board,
    d.entry_board,
    round(d.entry_board * 2) / 2 AS entry_half,           -- the half board; null if not logged
    ez.zone AS entry_zone,                                -- short, light, pocket, high, brooklyn; null if not logged
    d.speed_mph,
    d.rev_rpm,
    d.standing,
    d.standing = 0 AS strike,
    lt.leave,
    lt.leave_type                                         -- 'strike' where nothing stands
FROM on_pair AS d
JOIN bowlers AS b USING (bowler)
LEFT JOIN blocks AS bl USING (block)
LEFT JOIN patterns AS p USING (pattern)
LEFT JOIN pattern_classes AS pc USING (pattern)
LEFT JOIN ball_classes AS bc ON bc.ball = d.ball
LEFT JOIN phases AS ph ON ph.game = d.game
LEFT JOIN lines AS ln ON ln.board = round(d.arrow_board)
LEFT JOIN entry_zones AS ez ON ez.half_board = round(d.entry_board * 2) / 2
LEFT JOIN leave_types AS lt ON lt.standing = d.standing
WHERE d.first_ball AND NOT d.foul
