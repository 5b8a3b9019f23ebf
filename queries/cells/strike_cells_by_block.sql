-- Grain: one cell of bowler x block x pattern class x phase x ball class. Input: first_balls. Reader: models/skill.
-- All first balls, with and without an entry board. third as in cells/pocket_cells.
SELECT
    f.bowler,
    f.block,
    t.third,
    f.pattern_class,
    f.phase,
    coalesce(f.ball_class, 'unknown') AS ball_class,
    count(*) AS shots,
    count(*) FILTER (WHERE f.strike) AS strikes
FROM first_balls AS f
JOIN season_thirds AS t USING (bowler, block)
GROUP BY ALL
ORDER BY ALL
