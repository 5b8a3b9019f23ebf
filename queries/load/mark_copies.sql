-- Grain: one copied row, marked by the bit $needless if a like row is kept and by $differing if the copies differ.
-- Inputs: staged_shots, copies. Reader: intake, where copies were found.
UPDATE staged_shots AS s
SET faults = s.faults | CASE WHEN c.alike THEN $needless ELSE $differing END
FROM copies AS c
WHERE c.frame_key = s.frame_key AND c.delivery = s.delivery AND (NOT c.alike OR s.rowid > c.first_row)
