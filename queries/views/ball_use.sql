-- Grain: one ball on one day: shots (fouls left out) and games on it. Input: ball_games.
-- Readers: cells/ball_states, cells/ball_care.
CREATE OR REPLACE TEMP VIEW ball_use AS
SELECT ball, date, sum(shots) AS shots, sum(games) AS games
FROM ball_games
GROUP BY ALL
