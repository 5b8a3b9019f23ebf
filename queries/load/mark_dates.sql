-- Grain: one row whose date is impossible, marked by bit 1 (unreadable) or 21 (not the block's). Inputs: staged_shots,
-- bad_dates. Reader: intake, where bad dates were found.
UPDATE staged_shots AS s
SET faults = s.faults | b.bit
FROM bad_dates AS b
WHERE b.file_no = s.file_no AND b.date_text = s.date_text AND b.block_no IS NOT DISTINCT FROM s.block_no
