-- Grain: one ball thrown in the period, or at no new rack in the whole log. Inputs: balls, held_ball_games, period_blocks.
-- Reader: scope/balls_in_period. A ball last thrown in another season is not in today's bag.
CREATE OR REPLACE TEMP TABLE period_balls AS
SELECT b.*
FROM balls AS b
WHERE b.ball NOT IN (SELECT g.ball FROM held_ball_games AS g WHERE g.ball IS NOT NULL)
    OR b.ball IN (SELECT g.ball FROM held_ball_games AS g SEMI JOIN period_blocks USING (block))
