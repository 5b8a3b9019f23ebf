-- Grain: one first delivery of a frame, in the order it was thrown. Input: first_balls. Reader: validation/posterior_predictive.
-- Parameter $games: at most this many games, taken by a hash of their names so that the choice is the same every time.
WITH sampled_games AS (
    SELECT block, bowler, game
    FROM first_balls
    GROUP BY block, bowler, game
    ORDER BY hash(block, bowler, game), block, bowler, game
    LIMIT $games
)
SELECT
    block,
    bowler,
    game,
    frame,
    pattern_class,
    length_ft,
    volume_ml,
    ratio,
    ball,
    ball_class,
    line,
    pair_load // 20 * 20 + 9.5 AS pair_load,               -- the middle of the step
    strike
FROM first_balls
SEMI JOIN sampled_games USING (block, bowler, game)
WHERE delivery = 1
ORDER BY block, bowler, game, frame
