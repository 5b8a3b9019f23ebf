-- Grain: one cell of bowler x block x phase x ball x surface x line x exit band. Inputs: first_balls, balls, ball_classes, maintenance.
-- Reader: models/strikes/oil_rules. Parameters: light_to, heavy_from (mL), dull_to, polished_from (grit), band (boards).
-- The surface is the last logged step before the day, else the one the season began with. exit_band: where the ball left
-- the pattern against its length in feet minus 31: near (within the band), inside, outside, or not logged.
WITH surfaces AS (
    SELECT ball, date, max(grit) AS grit FROM maintenance WHERE grit IS NOT NULL GROUP BY ball, date
),
shots AS (
    SELECT
        f.bowler,
        f.block,
        f.ball,
        f.strike,
        f.pattern_class,
        f.phase,
        coalesce(f.line, 'line not logged') AS line,
        coalesce(f.ball_class, 'ball not listed') AS ball_class,
        coalesce(bc.rg_class, 'unknown') AS rg_class,
        coalesce(bc.diff_class, 'unknown') AS diff_class,
        coalesce(s.grit, b.surface_grit) AS grit,
        f.volume_ml,
        f.breakpoint_board - (f.length_ft - 31) AS off_rule
    FROM first_balls AS f
    LEFT JOIN balls AS b ON b.ball = f.ball
    LEFT JOIN ball_classes AS bc ON bc.ball = f.ball
    ASOF LEFT JOIN surfaces AS s ON s.ball = f.ball AND f.date >= s.date
)
SELECT
    bowler,
    block,
    ball,
    pattern_class,
    phase,
    line,
    ball_class,
    rg_class,
    diff_class,
    CASE
        WHEN grit IS NULL THEN 'unknown' WHEN grit <= $dull_to THEN 'dull' WHEN grit >= $polished_from THEN 'polished'
        ELSE 'satin'
    END AS surface_class,
    CASE
        WHEN volume_ml IS NULL THEN 'unknown' WHEN volume_ml < $light_to THEN 'light' WHEN volume_ml >= $heavy_from THEN 'heavy'
        ELSE 'medium'
    END AS volume_class,
    CASE
        WHEN off_rule IS NULL THEN 'not logged' WHEN abs(off_rule) <= $band THEN 'near' WHEN off_rule > 0 THEN 'inside'
        ELSE 'outside'
    END AS exit_band,
    count(*) AS shots,
    count(*) FILTER (WHERE strike) AS strikes
FROM shots
GROUP BY ALL
ORDER BY ALL
