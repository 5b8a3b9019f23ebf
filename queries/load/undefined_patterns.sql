-- Grain: one pattern that blocks name but no patterns file gives a length: unposted. Inputs: blocks, patterns. Reader: intake.
SELECT b.pattern, count(*) AS blocks
FROM blocks AS b
LEFT JOIN patterns AS p USING (pattern)
WHERE b.pattern IS NOT NULL AND p.length_ft IS NULL
GROUP BY b.pattern
ORDER BY blocks DESC, b.pattern
