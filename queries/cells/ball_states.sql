-- Grain: one ball that is not a spare ball, as it stands at the end of the log. Inputs: balls, ball_classes,
-- deliveries, maintenance. Readers: decisions/arsenal/verdicts, decisions/arsenal/overlap, decisions/arsenal/strength_ladder.
-- Parameter: $usual, and games on a ball, as in cells/ball_age_cells. A ball never thrown is listed with no shots.
WITH last_care AS (
    SELECT
        ball,
        max(date) AS cared,
        max(date) FILTER (WHERE action = 'resurface') AS resurfaced,
        count(DISTINCT date) FILTER (WHERE action = 'resurface') AS times
    FROM maintenance
    GROUP BY ball
)

SELECT
    b.ball,
    b.bowler,
    bc.ball_class,
    b.cover,
    b.core,
    b.rg_in,
    b.diff_in,
    b.int_diff_in,
    b.layout,
    b.surface_grit,
    b.benchmark,
    b.games_before,
    coalesce(sum(u.shots), 0)::BIGINT AS shots,
    any_value(b.games_before) + coalesce(sum(u.games), 0) AS games_total,
    coalesce(sum(u.games) FILTER (WHERE c.resurfaced IS NULL OR u.date >= c.resurfaced), 0)
    + any_value(CASE WHEN c.resurfaced IS NULL THEN least(b.games_before, $usual) ELSE 0 END) AS games_since_resurface,
    coalesce(sum(u.games) FILTER (WHERE c.cared IS NULL OR u.date >= c.cared), 0)
    + any_value(CASE WHEN c.cared IS NULL THEN least(b.games_before, $usual) ELSE 0 END) AS games_since_care,
    coalesce(any_value(c.times), 0) AS surface_number          -- resurfacings logged so far
FROM balls AS b
LEFT JOIN ball_classes AS bc ON bc.ball = b.ball
LEFT JOIN ball_use AS u ON u.ball = b.ball
LEFT JOIN last_care AS c ON c.ball = b.ball
WHERE NOT b.spare_ball
GROUP BY ALL
ORDER BY b.bowler, b.ball
