-- Grain: one row of one shots file. Inputs: the CSV $path with columns $columns (ours by name, others ignored), and the
-- temporary tables known_blocks, known_bowlers, known_balls; macros load/blank_cell and load/number_cell. Reader: intake,
-- once per file.
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
        number_cell(lane, '') AS lane,
        number_cell(game, '') AS game,
        number_cell(frame, '') AS frame,
        number_cell(delivery, '') AS delivery,
        lane AS lane_text,
        game AS game_text,
        frame AS frame_text,
        delivery AS delivery_text,
        laydown_board AS laydown_text,
        arrow_board AS arrow_text,
        breakpoint_board AS breakpoint_text,
        breakpoint_ft AS breakpoint_ft_text,
        entry_board AS entry_text,
        entry_angle_deg AS angle_text,
        speed_mph AS speed_text,
        rev_rpm AS rev_text,
        number_cell(laydown_board, 'boards?|bd') AS laydown_board,
        number_cell(arrow_board, 'boards?|bd') AS arrow_board,
        number_cell(breakpoint_board, 'boards?|bd') AS breakpoint_board,
        number_cell(breakpoint_ft, 'feet|foot|ft|''') AS breakpoint_ft,
        number_cell(entry_board, 'boards?|bd') AS entry_board,
        number_cell(entry_angle_deg, 'degrees?|deg|°') AS entry_angle_deg,
        coalesce(number_cell(speed_mph, 'mph'), number_cell(speed_mph, 'km/h|kmh|kph|km') / $kmh_per_mph) AS speed_mph,
        number_cell(rev_rpm, 'rpm|revs?') AS rev_rpm,
        trim(coalesce(leave, '')) AS leave_text,
        foul AS foul_text,
        CASE
            WHEN blank_cell(foul) THEN false
            WHEN lower(trim(foul)) IN ('0', 'false', 'no', 'n') THEN false
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
        WHEN block_no IS NULL AND bowler_no IS NULL AND ball_no IS NULL AND delivery IS NULL AND (
            concat(date_text, block, bowler, ball, lane_text, game_text, frame_text, delivery_text, leave_text) = ''
            OR regexp_full_match(
                lower(coalesce(nullif(date_text, ''), nullif(block, ''), nullif(bowler, ''), ball)),
                '(grand )?(sub-?)?totals?:?|sums?:?|averages?:?|avg[.]?:?|means?:?'
            )
        ) THEN 33554432
        ELSE
        (block_no IS NULL)::INTEGER * 4
        + (bowler_no IS NULL)::INTEGER * 8
        + (NOT lane_good)::INTEGER * 16
        + (NOT game_good)::INTEGER * 32
        + (NOT frame_good)::INTEGER * 64
        + (NOT delivery_good)::INTEGER * 128
        + (ball_no IS NULL)::INTEGER * 256
        + (NOT coalesce(laydown_board BETWEEN $laydown_board_low AND $laydown_board_high, blank_cell(laydown_text)))::INTEGER * 512
        + (NOT coalesce(arrow_board BETWEEN $arrow_board_low AND $arrow_board_high, blank_cell(arrow_text)))::INTEGER * 1024
        + (NOT coalesce(breakpoint_board BETWEEN $breakpoint_board_low AND $breakpoint_board_high, blank_cell(breakpoint_text)))::INTEGER * 2048
        + (NOT coalesce(breakpoint_ft BETWEEN $breakpoint_ft_low AND $breakpoint_ft_high, blank_cell(breakpoint_ft_text)))::INTEGER * 4096
        + (NOT coalesce(entry_board BETWEEN $entry_board_low AND $entry_board_high, blank_cell(entry_text)))::INTEGER * 8192
        + (NOT coalesce(entry_angle_deg BETWEEN $entry_angle_deg_low AND $entry_angle_deg_high, blank_cell(angle_text)))::INTEGER * 16384
        + (NOT coalesce(speed_mph BETWEEN $speed_mph_low AND $speed_mph_high, blank_cell(speed_text)))::INTEGER * 32768
        + (NOT coalesce(rev_rpm BETWEEN $rev_rpm_low AND $rev_rpm_high, blank_cell(rev_text)))::INTEGER * 65536
        + (foul IS NULL)::INTEGER * 262144
        + coalesce(owner_no <> bowler_no, false)::INTEGER * 1048576
    END,
    -- A cell that does not end in a digit was perhaps a word for nothing or had a unit; intake looks at such a row again.
    coalesce(right(laydown_text, 1) NOT BETWEEN '0' AND '9', false)
    OR coalesce(right(arrow_text, 1) NOT BETWEEN '0' AND '9', false)
    OR coalesce(right(breakpoint_text, 1) NOT BETWEEN '0' AND '9', false)
    OR coalesce(right(breakpoint_ft_text, 1) NOT BETWEEN '0' AND '9', false)
    OR coalesce(right(entry_text, 1) NOT BETWEEN '0' AND '9', false)
    OR coalesce(right(angle_text, 1) NOT BETWEEN '0' AND '9', false)
    OR coalesce(right(speed_text, 1) NOT BETWEEN '0' AND '9', false)
    OR coalesce(right(rev_text, 1) NOT BETWEEN '0' AND '9', false)
    OR (NOT foul AND lower(trim(foul_text)) NOT IN ('', '0', 'false', 'no', 'n'))
FROM judged
