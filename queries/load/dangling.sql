-- Grain: one stored row that names a bowler, ball or block which is no longer stored, or a delivery after such a one in its
-- frame, whose pins are then unknown.
-- Inputs: bowlers, balls, blocks, maintenance, deliveries. Reader: intake, after references were replaced.
WITH lost AS (
    SELECT source_file, line, 'bowler' AS column_name, bowler AS value, block, bowler, game, frame, delivery
    FROM deliveries ANTI JOIN bowlers USING (bowler)
    UNION ALL
    SELECT source_file, line, 'ball', ball, block, bowler, game, frame, delivery
    FROM deliveries ANTI JOIN balls USING (ball)
    UNION ALL
    SELECT source_file, line, 'block', block, block, bowler, game, frame, delivery
    FROM deliveries ANTI JOIN blocks USING (block)
)
SELECT 'balls' AS kind, source_file, line, 'bowler' AS column_name, bowler AS value
FROM balls ANTI JOIN bowlers USING (bowler)
UNION ALL
SELECT 'maintenance', source_file, line, 'ball', ball
FROM maintenance ANTI JOIN balls USING (ball)
UNION ALL
SELECT 'deliveries', source_file, line, column_name, value
FROM lost
UNION ALL
SELECT DISTINCT 'deliveries', d.source_file, d.line, 'delivery', d.delivery::VARCHAR
FROM deliveries AS d
JOIN lost AS l USING (source_file, block, bowler, game, frame)
WHERE d.delivery > l.delivery AND d.line NOT IN (SELECT line FROM lost WHERE lost.source_file = d.source_file)
