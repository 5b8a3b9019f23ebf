-- Grain: one block of one bowler. Input: held_seasons. Readers: as of views/season_thirds, in a season of two seasons.
CREATE OR REPLACE TEMP VIEW season_thirds AS
SELECT * FROM held_seasons
