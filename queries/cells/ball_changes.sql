-- Grain: one change of ball by one bowler inside a block, on first deliveries, spare balls left out.
-- Inputs: first_balls, balls. Reader: decisions/transition/ball_changes.
-- Before and after reach up to ten first deliveries, and never into another run of shots with a third ball.
-- first_game and last_game bound the bowler's block; from_frame of from_game is when the old ball was taken in hand,
-- until_game the last game with the new one before yet another; shots_again are those before the change that also came
-- after the last one.
WITH thrown AS (
    SELECT
        f.*,
        row_number() OVER block_order AS shot,
        f.ball IS DISTINCT FROM lag(f.ball) OVER block_order AS changed,
        min(f.game) OVER (PARTITION BY f.bowler, f.block) AS first_game,
        max(f.game) OVER (PARTITION BY f.bowler, f.block) AS last_game
    FROM first_balls AS f
    LEFT JOIN balls AS b ON b.ball = f.ball
    WHERE NOT coalesce(b.spare_ball, false)
    WINDOW block_order AS (PARTITION BY f.bowler, f.block ORDER BY f.game, f.frame, f.delivery)
),

runs AS (
    SELECT
        *,
        count(*) FILTER (WHERE changed)
            OVER (PARTITION BY bowler, block ORDER BY shot ROWS UNBOUNDED PRECEDING) AS run
    FROM thrown
),

in_hand AS (
    SELECT
        bowler,
        block,
        run,
        min(shot) AS shot,
        arg_min(game, shot) AS game,
        arg_min(frame, shot) AS frame,
        max(game) AS until_game
    FROM runs
    GROUP BY ALL
),

changes AS (
    SELECT r.*, old.game AS from_game, old.frame AS from_frame, old.shot AS from_shot, new.until_game
    FROM runs AS r
    JOIN in_hand AS new ON new.bowler = r.bowler AND new.block = r.block AND new.run = r.run
    JOIN in_hand AS old ON old.bowler = r.bowler AND old.block = r.block AND old.run = r.run - 1
    WHERE r.changed AND r.run > 1
)

SELECT
    c.bowler,
    c.date,
    c.block,
    c.pattern,
    c.pattern_class,
    c.length_ft,
    c.volume_ml,
    c.ratio,
    c.pair_load,
    c.game,
    c.frame,
    c.first_game,
    c.last_game,
    c.from_game,
    c.from_frame,
    c.until_game,
    any_value(r.ball) FILTER (WHERE r.run = c.run - 1) AS from_ball,
    c.ball AS to_ball,
    mode(r.line) FILTER (WHERE r.run = c.run - 1) AS from_line,
    mode(r.line) FILTER (WHERE r.run = c.run) AS to_line,
    count(*) FILTER (WHERE r.run = c.run - 1) AS shots_before,
    count(*) FILTER (WHERE r.run = c.run) AS shots_after,
    count(*) FILTER (WHERE r.run = c.run - 1 AND c.run > 2 AND r.shot < c.from_shot + 10) AS shots_again,
    count(*) FILTER (WHERE r.run = c.run - 1 AND r.strike) AS strikes_before,
    count(*) FILTER (WHERE r.run = c.run AND r.strike) AS strikes_after
FROM changes AS c
JOIN runs AS r
    ON r.bowler = c.bowler
    AND r.block = c.block
    AND r.shot BETWEEN c.shot - 10 AND c.shot + 9
    AND r.run IN (c.run - 1, c.run)
GROUP BY ALL
ORDER BY c.bowler, c.date, c.block, c.game, c.frame
