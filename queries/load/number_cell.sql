-- Grain: one cell: its number, null if it holds none. Inputs: a cell's text, and the unit that may stand behind the
-- number, as a pattern of alternatives. Reader: load/stage_shots. A plain number costs one cast only;
-- one with an underscore, which the database would skip, is none.
CREATE OR REPLACE TEMP MACRO number_cell(cell, unit) AS CASE WHEN NOT contains(cell, '_') THEN coalesce(
    TRY_CAST(cell AS FLOAT),
    TRY_CAST(replace(cell, ',', '.') AS FLOAT),
    TRY_CAST(
        regexp_extract(
            replace(lower(trim(cell)), ',', '.'),
            '^#?\s*([+-]?[0-9]*[.]?[0-9]+)\s*(?:' || unit || ')?$',
            1
        ) AS FLOAT
    )
) END
