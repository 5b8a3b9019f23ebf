-- Grain: one first delivery. Input: first_balls. Reader: store/season.
-- The view's rows computed once, for a season of usual size; a large one would not fit and stays a view.
CREATE OR REPLACE TEMP TABLE held_first_balls AS
SELECT * FROM first_balls
