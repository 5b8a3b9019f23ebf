-- Grain: one ball of one bowler x half entry board. Input: first_balls. Reader: pricing/ledger_entry.
SELECT bowler, ball, entry_half, count(*) AS shots
FROM first_balls
WHERE entry_half IS NOT NULL
GROUP BY ALL
ORDER BY ALL
