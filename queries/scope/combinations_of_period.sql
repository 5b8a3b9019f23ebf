-- Grain: one ball on one line of one bowler in one phase on one pattern class, over the whole log, of the balls the bowler threw in
-- the period, in the phases and on the pattern classes bowled in it. Inputs: held_combinations, first_balls.
-- Reader: decisions/candidates. Columns as in cells/logged_combinations, and shots_now, the shots of the period.
SELECT h.*, coalesce(n.shots_now, 0) AS shots_now
FROM held_combinations AS h
SEMI JOIN first_balls AS thrown ON thrown.bowler = h.bowler AND thrown.ball = h.ball
SEMI JOIN first_balls AS met ON met.bowler = h.bowler AND met.pattern_class = h.pattern_class AND met.phase = h.phase
LEFT JOIN (
    SELECT bowler, pattern_class, phase, ball, line, count(*) AS shots_now
    FROM first_balls
    GROUP BY ALL
) AS n
    ON n.bowler = h.bowler AND n.pattern_class = h.pattern_class AND n.phase = h.phase AND n.ball = h.ball
    AND n.line IS NOT DISTINCT FROM h.line
ORDER BY h.bowler, h.pattern_class, h.phase, h.ball, h.line
