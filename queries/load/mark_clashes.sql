-- Grain: one row of a frame that another file holds, marked by the bit $other_file. Inputs: staged_shots,
-- clashes.
-- Reader: intake, where clashes were found.
UPDATE staged_shots AS s SET faults = s.faults | $other_file FROM clashes AS c WHERE c.frame_key = s.frame_key
