-- Grain: one row of a shots file whose speeds are all in km/h, with its speed in mph and bit 15 of its faults anew.
-- Inputs: staged_shots, kilometres in a mile and the bounds of a speed. Reader: intake.
UPDATE staged_shots
SET speed_mph = speed_mph / $kmh_per_mph,
    faults = (faults & ~32768)
        + (speed_mph / $kmh_per_mph NOT BETWEEN $speed_mph_low AND $speed_mph_high)::INTEGER * 32768
WHERE file_no = $file_no AND speed_mph IS NOT NULL AND faults <> 1 AND faults <> 33554432
