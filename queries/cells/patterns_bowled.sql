-- Grain: one block of one bowler. Inputs: deliveries, blocks, patterns, pattern_classes. Reader: decisions/plan/block_plan.
-- The oil is null if the pattern was not posted.
SELECT
    d.bowler,
    d.block,
    min(d.date) AS date,
    any_value(b.pattern) AS pattern,
    any_value(pc.pattern_class) AS pattern_class,
    any_value(p.length_ft) AS length_ft,
    any_value(p.volume_ml) AS volume_ml,
    any_value(p.ratio) AS ratio,
    max(d.game) AS games
FROM deliveries AS d
LEFT JOIN blocks AS b USING (block)
LEFT JOIN patterns AS p USING (pattern)
LEFT JOIN pattern_classes AS pc USING (pattern)
GROUP BY d.bowler, d.block
ORDER BY d.bowler, date, d.block
