-- Grain: one row of one shots file. Inputs: the CSV $path with columns $columns (ours by name, others ignored), and the
-- temporary tables known_blocks, known_bowlers, known_balls. Reader: intake, once a file.
-- Every bit of ``faults`` is explained in pipeline/intake/checks/faults.py. A file read as it is has no column ``line``:
-- its n-th record then stands on line n + 1, which intake proves by counting line ends.
INSERT INTO staged_shots
WITH no_shots AS (
    SELECT
        '' AS line, '' AS misfit, '' AS date, '' AS block, '' AS bowler, '' AS lane, '' AS game, '' AS frame,
        '' AS delivery, '' AS ball, '' AS laydown_board, '' AS arrow_board, '' AS breakpoint_board,
        '' AS breakpoint_ft, '' AS entry_board, '' AS entry_angle_deg, '' AS speed_mph, '' AS rev_rpm, '' AS leave,
        '' AS foul, '' AS note
    WHERE false
),
texts AS (
    FROM no_shots
    UNION ALL BY NAME
    SELECT * FROM read_csv(
        $path, columns = $columns, delim = $delimiter, header = false, skip = 1, auto_detect = false,
        quote = '"', escape = '"', strict_mode = true, null_padding = false, max_line_size = 4194304
    )
),
numbered AS (
    SELECT coalesce(TRY_CAST(line AS BIGINT), row_number() OVER () + 1) AS line, * EXCLUDE (line) FROM texts
),
typed AS (
    SELECT
        line,
        nullif(misfit, '') AS misfit,
        trim(coalesce(date, '')) AS date_text,
        trim(block) AS block,
        trim(bowler) AS bowler,
        trim(ball) AS ball,
        coalesce(TRY_CAST(lane AS FLOAT), TRY_CAST(ltrim(trim(lane), '#') AS FLOAT)) AS lane,
        coalesce(TRY_CAST(game AS FLOAT), TRY_CAST(ltrim(trim(game), '#') AS FLOAT)) AS game,
        coalesce(TRY_CAST(frame AS FLOAT), TRY_CAST(ltrim(trim(frame), '#') AS FLOAT)) AS frame,
        coalesce(TRY_CAST(delivery AS FLOAT), TRY_CAST(ltrim(trim(delivery), '#') AS FLOAT)) AS delivery,
        laydown_board AS laydown_text,
        arrow_board AS arrow_text,
        breakpoint_board AS breakpoint_text,
        breakpoint_ft AS breakpoint_ft_text,
        entry_board AS entry_text,
        entry_angle_deg AS angle_text,
        speed_mph AS speed_text,
        rev_rpm AS rev_text,
        coalesce(TRY_CAST(laydown_board AS FLOAT), TRY_CAST(replace(laydown_board, ',', '.') AS FLOAT)) AS laydown_board,
        coalesce(TRY_CAST(arrow_board AS FLOAT), TRY_CAST(replace(arrow_board, ',', '.') AS FLOAT)) AS arrow_board,
        coalesce(TRY_CAST(breakpoint_board AS FLOAT), TRY_CAST(replace(breakpoint_board, ',', '.') AS FLOAT)) AS breakpoint_board,
        coalesce(TRY_CAST(breakpoint_ft AS FLOAT), TRY_CAST(replace(breakpoint_ft, ',', '.') AS FLOAT)) AS breakpoint_ft,
        coalesce(TRY_CAST(entry_board AS FLOAT), TRY_CAST(replace(entry_board, ',', '.') AS FLOAT)) AS entry_board,
        coalesce(TRY_CAST(entry_angle_deg AS FLOAT), TRY_CAST(replace(entry_angle_deg, ',', '.') AS FLOAT)) AS entry_angle_deg,
        coalesce(TRY_CAST(speed_mph AS FLOAT), TRY_CAST(replace(speed_mph, ',', '.') AS FLOAT)) AS speed_mph,
        coalesce(TRY_CAST(rev_rpm AS FLOAT), TRY_CAST(replace(rev_rpm, ',', '.') AS FLOAT)) AS rev_rpm,
        trim(coalesce(leave, '')) AS leave_text,
        CASE
            WHEN foul IS NULL THEN false
            WHEN lower(trim(foul)) IN ('', '0', 'false', 'no', 'n', '-', '--', 'n/a', 'na', '?', 'none') THEN false
            WHEN lower(trim(foul)) IN ('1', 'true', 'yes', 'y', 'x', 't', 'f', 'foul') THEN true
        END AS foul,
        nullif(trim(note), '') AS note
    FROM numbered
),
linked AS (
    SELECT t.*, bl.block_no, bo.bowler_no, ba.ball_no, ba.owner_no
    FROM typed AS t
    LEFT JOIN known_blocks AS bl ON bl.block = t.block
    LEFT JOIN known_bowlers AS bo ON bo.bowler = t.bowler
    LEFT JOIN known_balls AS ba ON ba.ball = t.ball
),
judged AS (
    SELECT
        *,
        coalesce(lane BETWEEN $lane_low AND $lane_high AND lane = trunc(lane), false) AS lane_good,
        coalesce(game BETWEEN $game_low AND $game_high AND game = trunc(game), false) AS game_good,
        coalesce(frame BETWEEN $frame_low AND $frame_high AND frame = trunc(frame), false) AS frame_good,
        coalesce(delivery BETWEEN $delivery_low AND $delivery_high AND delivery = trunc(delivery), false)
            AS delivery_good
    FROM linked
)
SELECT
    $file_no,
    line,
    CASE
        WHEN game_good AND frame_good AND misfit IS NULL
        THEN ((($file_no::BIGINT * $blocks + block_no) * $bowlers + bowler_no) * 64 + game::BIGINT) * 16 + frame::BIGINT
    END,
    date_text,
    block_no,
    bowler_no,
    ball_no,
    CASE WHEN lane_good THEN lane::SMALLINT END,
    CASE WHEN game_good THEN game::SMALLINT END,
    CASE WHEN frame_good THEN frame::SMALLINT END,
    CASE WHEN delivery_good THEN delivery::SMALLINT END,
    laydown_board,
    arrow_board,
    breakpoint_board,
    breakpoint_ft,
    entry_board,
    entry_angle_deg,
    speed_mph,
    rev_rpm,
    leave_text,
    foul,
    note,
    CASE
        WHEN misfit IS NOT NULL THEN 1
        -- A row of blanks, or of totals under a table, is no delivery: bit 25.
        WHEN game IS NULL AND frame IS NULL AND delivery IS NULL AND leave_text = '' AND (
            coalesce(date_text, '') || coalesce(block, '') || coalesce(bowler, '') || coalesce(ball, '') = ''
            OR regexp_matches(lower(coalesce(nullif(date_text, ''), nullif(block, ''), bowler)), '^(((sub|grand )?totals?)|sum|average|avg|mean):?$')
        ) THEN 33554432
        ELSE
        (block_no IS NULL)::INTEGER * 4
        + (bowler_no IS NULL)::INTEGER * 8
        + (NOT lane_good)::INTEGER * 16
        + (NOT game_good)::INTEGER * 32
        + (NOT frame_good)::INTEGER * 64
        + (NOT delivery_good)::INTEGER * 128
        + (ball_no IS NULL)::INTEGER * 256
        + (NOT coalesce(laydown_board BETWEEN $laydown_board_low AND $laydown_board_high, lower(trim(laydown_text)) IN ('', 'n/a', 'na', '?', '-', '--', 'none'), true))::INTEGER * 512
        + (NOT coalesce(arrow_board BETWEEN $arrow_board_low AND $arrow_board_high, lower(trim(arrow_text)) IN ('', 'n/a', 'na', '?', '-', '--', 'none'), true))::INTEGER * 1024
        + (NOT coalesce(breakpoint_board BETWEEN $breakpoint_board_low AND $breakpoint_board_high, lower(trim(breakpoint_text)) IN ('', 'n/a', 'na', '?', '-', '--', 'none'), true))::INTEGER * 2048
        + (NOT coalesce(breakpoint_ft BETWEEN $breakpoint_ft_low AND $breakpoint_ft_high, lower(trim(breakpoint_ft_text)) IN ('', 'n/a', 'na', '?', '-', '--', 'none'), true))::INTEGER * 4096
        + (NOT coalesce(entry_board BETWEEN $entry_board_low AND $entry_board_high, lower(trim(entry_text)) IN ('', 'n/a', 'na', '?', '-', '--', 'none'), true))::INTEGER * 8192
        + (NOT coalesce(entry_angle_deg BETWEEN $entry_angle_deg_low AND $entry_angle_deg_high, lower(trim(angle_text)) IN ('', 'n/a', 'na', '?', '-', '--', 'none'), true))::INTEGER * 16384
        + (NOT coalesce(speed_mph BETWEEN $speed_mph_low AND $speed_mph_high, lower(trim(speed_text)) IN ('', 'n/a', 'na', '?', '-', '--', 'none'), true))::INTEGER * 32768
        + (NOT coalesce(rev_rpm BETWEEN $rev_rpm_low AND $rev_rpm_high, lower(trim(rev_text)) IN ('', 'n/a', 'na', '?', '-', '--', 'none'), true))::INTEGER * 65536
        + (foul IS NULL)::INTEGER * 262144
        + coalesce(owner_no <> bowler_no, false)::INTEGER * 1048576
    END
FROM judged
