-- Grain: one block of one bowler. Input: held_seasons. Readers: as of views/season_thirds, while two seasons are compared.
CREATE OR REPLACE TEMP VIEW season_thirds AS
SELECT * FROM held_seasons
