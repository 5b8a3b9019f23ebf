-- Grain: one frame that another file already holds. Inputs: frames, staged_shots, deliveries without the files now
-- replaced, known_blocks, known_bowlers, shot_files, macro frame_key. Readers: load/mark_clashes, load/set_aside. Of new files the first by name wins.
CREATE OR REPLACE TEMP TABLE clashes AS
WITH places AS (
    SELECT frame_key, frame_key % c.places AS place, frame_key // c.places AS file_no
    FROM frames, (SELECT greatest(frame_key(1, $blocks, 0, $bowlers, 0, 0, 0), 1) AS places) AS c
),
shared AS (
    SELECT place, min(file_no) AS file_no FROM places GROUP BY place HAVING count(*) > 1
),
loaded AS (
    SELECT frame_key(0, 0, b.block_no, $bowlers, o.bowler_no, d.game, d.frame) AS place, min(d.source_file) AS other
    FROM deliveries AS d
    JOIN (
        SELECT * FROM known_blocks SEMI JOIN (SELECT DISTINCT block_no FROM staged_shots) AS s USING (block_no)
    ) AS b USING (block)
    JOIN known_bowlers AS o USING (bowler)
    GROUP BY ALL
)
SELECT p.frame_key, coalesce(l.other, f.source_file) AS other
FROM places AS p
LEFT JOIN loaded AS l USING (place)
LEFT JOIN shared AS s ON s.place = p.place AND s.file_no < p.file_no
LEFT JOIN shot_files AS f ON f.file_no = s.file_no
WHERE l.other IS NOT NULL OR f.source_file IS NOT NULL
