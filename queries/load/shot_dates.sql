-- Grain: one written date of one block in one file, with the block's own date. Inputs: staged_shots, known_blocks.
-- Reader: intake, which reads each once.
SELECT DISTINCT s.file_no, s.date_text, s.block_no, b.date AS block_date
FROM staged_shots AS s
LEFT JOIN known_blocks AS b USING (block_no)
WHERE s.faults <> $misfit
