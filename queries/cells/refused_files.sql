-- Grain: one file that was refused at its last load. Input: sources. Reader: decisions/season/summary.
SELECT source_file AS file, refused AS problem, rows_kept
FROM sources
WHERE refused IS NOT NULL
ORDER BY kind = 'shots' DESC, source_file
