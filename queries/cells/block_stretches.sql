-- Grain: one block of the whole log. Input: block_stretches. Reader: models/strikes/stretches.
SELECT block, stretch
FROM block_stretches
ORDER BY stretch, block
