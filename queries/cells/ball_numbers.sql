-- Grain: one ball. Inputs: balls, ball_classes, ball_games, maintenance. Readers: models/strikes/strike_worth, models/balls/ball_strength.
-- A ball's printed numbers, its layout, and the grit of its surface as thrown, in doublings, averaged over games: the grit of
-- the last change before each block, or that of balls.csv before the first.
WITH used AS (
    SELECT ball, block, min(date) AS date, sum(games) AS games
    FROM ball_games
    GROUP BY ball, block
),

thrown AS (
    SELECT
        u.ball,
        u.games,
        (
            SELECT arg_max(m.grit, m.date) FROM maintenance AS m
            WHERE m.ball = u.ball AND m.date <= u.date AND m.grit IS NOT NULL
        ) AS grit
    FROM used AS u
),

surfaces AS (
    SELECT t.ball, sum(t.games * log2(coalesce(t.grit, b.surface_grit))) / sum(t.games) AS grit_doublings
    FROM thrown AS t
    JOIN balls AS b USING (ball)
    WHERE coalesce(t.grit, b.surface_grit) IS NOT NULL
    GROUP BY t.ball
)

SELECT
    b.ball,
    c.ball_class,
    b.spare_ball,
    b.rg_in,
    b.diff_in,
    b.int_diff_in,
    b.layout,
    coalesce(s.grit_doublings, log2(b.surface_grit)) AS grit_doublings
FROM balls AS b
JOIN ball_classes AS c ON c.ball = b.ball
LEFT JOIN surfaces AS s ON s.ball = b.ball
ORDER BY b.ball
