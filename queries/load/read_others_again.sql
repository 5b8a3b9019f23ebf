-- Grain: one loaded file of another folder that is read again at its next load, because a file of this one changed.
-- Input: sources. Reader: intake, when it has stored $files. $affected holds or waits for what came, changed or went; $lost
-- says that an id which two reference files may share went or changed.
UPDATE sources SET read_again = true
WHERE source_file NOT IN (SELECT unnest($files::VARCHAR[]))
    AND (source_file IN (SELECT unnest($affected::VARCHAR[])) OR (kind <> 'shots' AND $lost))
