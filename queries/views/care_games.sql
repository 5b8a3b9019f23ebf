-- Grain: one ball on one day of care. Inputs: care_days, ball_games. Reader: views/care_so_far.
-- logged: games on the ball in the log before that day; care logged on a date comes before that day's games.
CREATE OR REPLACE TEMP VIEW care_games AS
SELECT c.ball, c.date, c.resurfaced, coalesce(sum(u.games) FILTER (WHERE u.date < c.date), 0) AS logged
FROM care_days AS c
LEFT JOIN ball_games AS u USING (ball)
GROUP BY ALL
