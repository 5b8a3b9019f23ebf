-- Grain: one cell of bowler x block x pattern class x phase x ball class. Inputs: first_balls, season_thirds.
-- Readers: models/skills/skill, of all first balls and of those with an entry board (entries and what follows it).
-- third: the bowler's own blocks in order of date, cut into three; null with under three.
SELECT
    f.bowler,
    f.block,
    t.third,
    f.pattern_class,
    f.phase,
    coalesce(f.ball_class, 'unknown') AS ball_class,
    count(*) AS shots,
    count(*) FILTER (WHERE f.strike) AS strikes,
    count(*) FILTER (WHERE f.entry_zone IS NOT NULL) AS entries,
    count(*) FILTER (WHERE f.entry_zone IS NOT NULL AND f.strike) AS entry_strikes,
    count(*) FILTER (WHERE f.entry_zone = 'pocket') AS pockets,
    count(*) FILTER (WHERE f.entry_zone = 'pocket' AND f.strike) AS pocket_strikes,
    sum(f.entry_board) FILTER (WHERE f.entry_zone IS NOT NULL) AS entry_sum
FROM first_balls AS f
JOIN season_thirds AS t USING (bowler, block)
GROUP BY ALL
ORDER BY ALL
