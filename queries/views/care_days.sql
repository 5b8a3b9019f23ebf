-- Grain: one ball on one day of care; several acts of one day count once. Input: maintenance.
-- Reader: views/care_games.
CREATE OR REPLACE TEMP VIEW care_days AS
SELECT ball, date, bool_or(action = 'resurface') AS resurfaced
FROM maintenance
GROUP BY ALL
