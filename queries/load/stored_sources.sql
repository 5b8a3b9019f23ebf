-- Grain: one loaded file. Input: sources. Reader: intake, which skips files it knows.
SELECT source_file, path, kind, sha256, rows_read, rows_kept, rows_quarantined, rows_repaired, refused, read_again
FROM sources
