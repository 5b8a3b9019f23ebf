-- Grain: one bowler with at least one delivery. Inputs: deliveries, bowlers, first_balls. Reader: decisions/season/summary.
WITH first AS (
    SELECT bowler, count(*) AS shots, count(*) FILTER (WHERE strike) AS strikes FROM first_balls GROUP BY bowler
),
thrown AS (
    SELECT bowler, count(DISTINCT (block, game)) AS games, max(date) AS last_date FROM deliveries GROUP BY bowler
)
SELECT
    b.bowler,
    b.hand,
    b.style,
    b.coach,
    b.birth_year,
    t.games,
    coalesce(f.shots, 0) AS shots,
    coalesce(f.strikes, 0) AS strikes
FROM thrown AS t
JOIN bowlers AS b USING (bowler)
LEFT JOIN first AS f USING (bowler)
ORDER BY b.bowler
