-- Grain: one ball in one game of one bowler, over the whole log: a ball does not get younger as a season begins.
-- Input: ball_games. Reader: scope/ball_games_of_log.
CREATE OR REPLACE TEMP TABLE held_ball_games AS
SELECT * FROM ball_games
