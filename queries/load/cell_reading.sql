-- Grain: one cell that may be read otherwise than written: its column, its text and what it was read as, null if it is plain
-- or cannot be read. Inputs: the column's name, the cell's text, the number read and the words for nothing.
-- Reader: load/stage_shots.
CREATE OR REPLACE TEMP MACRO cell_reading(name, cell, number, words) AS {
    'column_name': name,
    'value': trim(cell),
    'read_as': CASE
        WHEN cell IS NULL OR trim(cell) = '' OR TRY_CAST(replace(trim(cell), ',', '.') AS FLOAT) IS NOT NULL THEN NULL
        WHEN number IS NOT NULL THEN format('{:g}', round(number::DOUBLE, 2))
        WHEN list_contains(words, lower(trim(cell))) THEN 'empty'
    END
}
