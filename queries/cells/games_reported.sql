-- Grain: one ball: games with it in the blocks a report is about. Inputs: ball_games, deliveries.
-- Reader: decisions/arsenal/work_list.
SELECT g.ball, sum(g.games) AS games
FROM ball_games AS g
SEMI JOIN deliveries AS d ON d.bowler = g.bowler AND d.block = g.block
GROUP BY g.ball
ORDER BY g.ball
