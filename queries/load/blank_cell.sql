-- Grain: one cell: whether it is empty or holds one of the words for nothing. Input: a cell's text.
-- Readers: load/stage_shots. The words are those of pipeline/intake/checks/near_misses.py.
CREATE OR REPLACE TEMP MACRO blank_cell(cell) AS
    cell IS NULL
    OR lower(trim(cell)) IN ('', 'n/a', '#n/a', 'na', '?', '??', '-', '--', '–', '—', 'none', 'null')
