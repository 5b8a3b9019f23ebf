-- Grain: one row of a shots file that is no delivery. Inputs: staged_shots, and the bit of such rows as $no_record.
-- Reader: intake, after it counted them.
DELETE FROM staged_shots WHERE faults = $no_record
