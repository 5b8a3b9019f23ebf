-- Grain: one row of a shots file out of $files, whose speeds are in km/h, with its speed in mph and the bit $wrong_speed of its faults anew.
-- A speed with its unit behind it is in mph already. Inputs: staged_shots, kilometres in a mile, bounds of a speed. Reader: intake.
UPDATE staged_shots
SET speed_mph = speed_mph / $kmh_per_mph,
    faults = (faults & ~$wrong_speed)
        + (speed_mph / $kmh_per_mph NOT BETWEEN $speed_mph_low AND $speed_mph_high)::INTEGER * $wrong_speed
WHERE file_no IN (SELECT unnest($files::INTEGER[]))
    AND speed_mph IS NOT NULL
    AND faults <> $misfit
    AND coalesce(NOT list_contains(list_transform(readings, lambda cell: cell.column_name), 'speed_mph'), true)
