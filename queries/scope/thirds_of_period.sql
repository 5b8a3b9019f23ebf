-- Grain: one block of one bowler. Input: held_thirds. Readers: as of views/season_thirds.
CREATE OR REPLACE TEMP VIEW season_thirds AS
SELECT * FROM held_thirds
