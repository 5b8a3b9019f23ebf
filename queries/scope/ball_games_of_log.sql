-- Grain: one ball in one game of one bowler. Input: held_ball_games. Readers: as of views/ball_games.
CREATE OR REPLACE TEMP VIEW ball_games AS
SELECT * FROM held_ball_games
