-- Grain: one cell: whether it is empty or holds one of the words for nothing. Inputs: a cell's text, and the words.
-- Reader: load/stage_shots.
CREATE OR REPLACE TEMP MACRO blank_cell(cell, words) AS
    cell IS NULL OR trim(cell) = '' OR list_contains(words, lower(trim(cell)))
