-- Grain: one copied row, marked by bit 22 where a like row is kept and by bit 23 where the copies differ.
-- Inputs: staged_shots, copies. Reader: intake, where copies were found.
UPDATE staged_shots AS s
SET faults = s.faults | CASE WHEN c.alike THEN 4194304 ELSE 8388608 END
FROM copies AS c
WHERE c.frame_key = s.frame_key AND c.delivery = s.delivery AND (NOT c.alike OR s.line > c.first_line)
