-- Grain: one stored row that names a bowler, ball or block which is no longer stored.
-- Inputs: bowlers, balls, blocks, maintenance, deliveries. Reader: intake, after references were replaced.
SELECT 'balls' AS kind, source_file, line, 'bowler' AS column_name, bowler AS value
FROM balls ANTI JOIN bowlers USING (bowler)
UNION ALL
SELECT 'maintenance', source_file, line, 'ball', ball
FROM maintenance ANTI JOIN balls USING (ball)
UNION ALL
SELECT 'deliveries', source_file, line, 'bowler', bowler
FROM deliveries ANTI JOIN bowlers USING (bowler)
UNION ALL
SELECT 'deliveries', source_file, line, 'ball', ball
FROM deliveries ANTI JOIN balls USING (ball)
UNION ALL
SELECT 'deliveries', source_file, line, 'block', block
FROM deliveries ANTI JOIN blocks USING (block)
