-- Grain: one loaded file that was moved or renamed since. Input: sources. Reader: intake.
UPDATE sources SET source_file = $new, path = $path WHERE source_file = $old
