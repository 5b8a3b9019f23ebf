-- Grain: one half board of entry. Input: first_balls. Reader: models/lines/line_cost.
-- First deliveries and strikes of bowlers who log the entry board of strikes and other shots alike: a log of strikes alone
-- would make every board strike.
WITH logging AS (
    SELECT
        bowler,
        avg((entry_board IS NOT NULL)::INT) FILTER (WHERE strike) AS of_strikes,
        avg((entry_board IS NOT NULL)::INT) FILTER (WHERE NOT strike) AS of_others
    FROM first_balls
    GROUP BY bowler
)
SELECT
    round(entry_board * 2) / 2 AS entry_board,
    count(*) AS shots,
    count(*) FILTER (WHERE strike) AS strikes
FROM first_balls
INNER JOIN logging USING (bowler)
WHERE entry_board IS NOT NULL AND abs(of_strikes - of_others) < 0.2
GROUP BY ALL
ORDER BY entry_board
