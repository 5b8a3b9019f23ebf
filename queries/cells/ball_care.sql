-- Grain: one logged act of care on one ball on one day. Inputs: maintenance, deliveries, balls. Reader: decisions/arsenal/verdicts.
-- Parameter: $usual, and games on a ball, as in cells/ball_age_cells. games_at counts from the resurfacing before this
-- act (from the season's start with games_before, at most $usual, if there was none), games_since_care from the
-- act of any kind before it. shots_before and shots_after
-- reach to the neighbouring resurfacings. surface_number is the number of resurfacings before this act.
WITH acts AS (
    SELECT DISTINCT m.ball, m.date, m.action, b.games_before
    FROM maintenance AS m
    JOIN balls AS b ON b.ball = m.ball AND NOT b.spare_ball
),

surfaces AS (
    SELECT
        a.*,
        max(r.date) FILTER (WHERE r.date < a.date AND r.action = 'resurface') AS surface_from,
        min(r.date) FILTER (WHERE r.date > a.date AND r.action = 'resurface') AS surface_to,
        max(r.date) FILTER (WHERE r.date < a.date) AS cared_from,
        count(DISTINCT r.date) FILTER (WHERE r.date < a.date AND r.action = 'resurface') AS surface_number
    FROM acts AS a
    LEFT JOIN maintenance AS r ON r.ball = a.ball
    GROUP BY ALL
)

SELECT
    s.ball,
    s.date,
    s.action,
    s.surface_number,
    coalesce(sum(u.games) FILTER (WHERE u.date < s.date AND (s.surface_from IS NULL OR u.date >= s.surface_from)), 0)
    + any_value(CASE WHEN s.surface_from IS NULL THEN least(s.games_before, $usual) ELSE 0 END) AS games_at,
    coalesce(sum(u.games) FILTER (WHERE u.date < s.date AND (s.cared_from IS NULL OR u.date >= s.cared_from)), 0)
    + any_value(CASE WHEN s.cared_from IS NULL THEN least(s.games_before, $usual) ELSE 0 END) AS games_since_care,
    coalesce(
        sum(u.shots) FILTER (WHERE u.date < s.date AND (s.surface_from IS NULL OR u.date >= s.surface_from)), 0
    )::BIGINT AS shots_before,
    coalesce(
        sum(u.shots) FILTER (WHERE u.date >= s.date AND (s.surface_to IS NULL OR u.date < s.surface_to)), 0
    )::BIGINT AS shots_after
FROM surfaces AS s
LEFT JOIN ball_use AS u ON u.ball = s.ball
GROUP BY ALL
ORDER BY s.ball, s.date, s.action
