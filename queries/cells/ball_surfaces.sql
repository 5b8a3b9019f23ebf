-- Grain: one stretch of a ball that is not a spare ball, between two resurfacings. Inputs: balls, ball_use, maintenance.
-- Reader: decisions/arsenal/grit.
-- surface_number is as in cells/ball_age_cells. grit is that of the resurfacing it began with (the ball's own at the
-- season's start); null if none was logged, or where the surface was changed to another grit within the stretch.
WITH resurfaced AS (
    SELECT ball, date, max(grit) AS grit, row_number() OVER (PARTITION BY ball ORDER BY date) AS surface_number
    FROM maintenance
    WHERE action = 'resurface'
    GROUP BY ball, date
),

stretches AS (
    SELECT ball, 0 AS surface_number, NULL::DATE AS from_date, surface_grit AS grit
    FROM balls
    WHERE NOT spare_ball
    UNION ALL
    SELECT r.ball, r.surface_number, r.date, r.grit
    FROM resurfaced AS r
    JOIN balls AS b ON b.ball = r.ball AND NOT b.spare_ball
),

bounded AS (
    SELECT
        *,
        coalesce(from_date, DATE '0001-01-01') AS begins,
        coalesce(lead(from_date) OVER (PARTITION BY ball ORDER BY surface_number), DATE '9999-12-31') AS ends
    FROM stretches
)

SELECT
    s.ball,
    s.surface_number,
    CASE
        WHEN NOT EXISTS (
            SELECT 1 FROM maintenance AS m
            WHERE m.ball = s.ball AND m.action = 'surface' AND m.date >= s.begins AND m.date < s.ends
                AND m.grit IS DISTINCT FROM s.grit
        ) THEN s.grit
    END AS grit,
    coalesce(sum(u.shots), 0)::BIGINT AS shots
FROM bounded AS s
LEFT JOIN ball_use AS u ON u.ball = s.ball AND u.date >= s.begins AND u.date < s.ends
GROUP BY s.ball, s.surface_number, s.grit, s.begins, s.ends
ORDER BY s.ball, s.surface_number
