-- Grain: one way a delivery was logged: the leave as written, and whether it was a foul. Input: staged_shots.
-- Readers: load/frames (by number), intake. Numbers start at 1: 0 stands for no row and -1 for a row at fault.
CREATE OR REPLACE TEMP TABLE marks AS
SELECT row_number() OVER () AS mark, leave_text, foul
FROM (SELECT DISTINCT leave_text, foul FROM staged_shots WHERE faults = 0)
