-- Grain: one cell of bowler x block x pattern class x phase x ball class. Input: first_balls. Reader: models/skills/skill.
-- Only shots with an entry board. third: the bowler's own blocks in order of date, cut into three; null with under three.
SELECT
    f.bowler,
    f.block,
    t.third,
    f.pattern_class,
    f.phase,
    coalesce(f.ball_class, 'unknown') AS ball_class,
    count(*) AS shots,
    count(*) FILTER (WHERE f.entry_zone = 'pocket') AS pockets,
    count(*) FILTER (WHERE f.entry_zone = 'pocket' AND f.strike) AS pocket_strikes,
    count(*) FILTER (WHERE f.strike) AS strikes,
    sum(f.entry_board) AS entry_sum
FROM first_balls AS f
JOIN season_thirds AS t USING (bowler, block)
WHERE f.entry_zone IS NOT NULL
GROUP BY ALL
ORDER BY ALL
