-- Grain: one bowler. Input: first_balls. Reader: models/strikes/strike_worth.
-- Mean speed and rev rate of first deliveries; null if never logged. Spare balls are thrown at first racks too rarely
-- to matter.
SELECT
    bowler,
    avg(speed_mph) AS speed_mph,
    avg(rev_rpm) AS rev_rpm
FROM first_balls
GROUP BY bowler
ORDER BY bowler
