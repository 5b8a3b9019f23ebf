-- Grain: one row of one shots file. Inputs: the CSV $path with columns $columns (ours by name, others ignored), and the
-- types known_block, known_bowler and known_ball, whose codes are the numbers of the ids; $owners are those of the balls'
-- owners, by ball; macros load/blank_cell, load/number_cell, load/cell_reading and load/frame_key.
-- $nothing are the words for nothing, $totals is the pattern of a total's label, $unit_of_speed what a speed without a unit is
-- divided by to be mph. Reader: intake, once per file.
-- $block_fault and the like are the bits of ``faults``, from pipeline/intake/checks/faults.py. A file read as it is has no column ``line``:
-- its n-th record then stands on line n + 1, which intake proves by counting line ends. Numbering the rows here would need
-- a single thread. They are stored in the order of the file, and ``rowid`` counts them; a join would mix them up.
-- Nearly every row holds plain numbers only. The others are ``odd``, and only they take the slower way.
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
typed AS (
    SELECT
        TRY_CAST(line AS BIGINT) AS line,
        nullif(misfit, '') AS misfit,
        trim(coalesce(date, '')) AS date_text,
        trim(block) AS block,
        trim(bowler) AS bowler,
        trim(ball) AS ball,
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
        TRY_CAST(lane AS FLOAT) AS lane,
        TRY_CAST(game AS FLOAT) AS game,
        TRY_CAST(frame AS FLOAT) AS frame,
        TRY_CAST(delivery AS FLOAT) AS delivery,
        TRY_CAST(laydown_board AS FLOAT) AS laydown_board,
        TRY_CAST(arrow_board AS FLOAT) AS arrow_board,
        TRY_CAST(breakpoint_board AS FLOAT) AS breakpoint_board,
        TRY_CAST(breakpoint_ft AS FLOAT) AS breakpoint_ft,
        TRY_CAST(entry_board AS FLOAT) AS entry_board,
        TRY_CAST(entry_angle_deg AS FLOAT) AS entry_angle_deg,
        TRY_CAST(speed_mph AS FLOAT) / $unit_of_speed AS speed_mph,
        TRY_CAST(rev_rpm AS FLOAT) AS rev_rpm,
        trim(coalesce(leave, '')) AS leave_text,
        foul AS foul_text,
        CASE
            WHEN foul IS NULL THEN false
            WHEN lower(trim(foul)) IN ('0', 'false', 'no', 'n') THEN false
            WHEN lower(trim(foul)) IN ('1', 'true', 'yes', 'y', 'x', 't', 'f', 'foul') THEN true
        END AS foul,
        nullif(trim(note), '') AS note
    FROM texts
),
linked AS (
    SELECT
        *,
        enum_code(TRY_CAST(block AS known_block))::INTEGER AS block_no,
        enum_code(TRY_CAST(bowler AS known_bowler))::INTEGER AS bowler_no,
        enum_code(TRY_CAST(ball AS known_ball))::INTEGER AS ball_no,
        ($owners::INTEGER[])[ball_no + 1] AS owner_no,
        (lane IS NULL AND lane_text IS NOT NULL)
        OR (game IS NULL AND game_text IS NOT NULL)
        OR (frame IS NULL AND frame_text IS NOT NULL)
        OR (delivery IS NULL AND delivery_text IS NOT NULL)
        OR (laydown_board IS NULL AND laydown_text IS NOT NULL)
        OR (arrow_board IS NULL AND arrow_text IS NOT NULL)
        OR (breakpoint_board IS NULL AND breakpoint_text IS NOT NULL)
        OR (breakpoint_ft IS NULL AND breakpoint_ft_text IS NOT NULL)
        OR (entry_board IS NULL AND entry_text IS NOT NULL)
        OR (entry_angle_deg IS NULL AND angle_text IS NOT NULL)
        OR (speed_mph IS NULL AND speed_text IS NOT NULL)
        OR (rev_rpm IS NULL AND rev_text IS NOT NULL)
        -- the database would read 1_7 as 17; few files hold an underscore below their header
        OR $underscores AND contains(
            concat(
                lane_text, game_text, frame_text, delivery_text, laydown_text, arrow_text, breakpoint_text,
                breakpoint_ft_text, entry_text, angle_text, speed_text, rev_text
            ),
            '_'
        )
        OR (foul IS NULL) AS odd
    FROM typed
),
numbers AS (
    SELECT * REPLACE (
        CASE WHEN odd THEN number_cell(lane_text, '') ELSE lane END AS lane,
        CASE WHEN odd THEN number_cell(game_text, '') ELSE game END AS game,
        CASE WHEN odd THEN number_cell(frame_text, '') ELSE frame END AS frame,
        CASE WHEN odd THEN number_cell(delivery_text, '') ELSE delivery END AS delivery,
        CASE WHEN odd THEN number_cell(laydown_text, 'boards?|bd') ELSE laydown_board END AS laydown_board,
        CASE WHEN odd THEN number_cell(arrow_text, 'boards?|bd') ELSE arrow_board END AS arrow_board,
        CASE WHEN odd THEN number_cell(breakpoint_text, 'boards?|bd') ELSE breakpoint_board END AS breakpoint_board,
        CASE WHEN odd THEN number_cell(breakpoint_ft_text, 'feet|foot|ft|''') ELSE breakpoint_ft END AS breakpoint_ft,
        CASE WHEN odd THEN number_cell(entry_text, 'boards?|bd') ELSE entry_board END AS entry_board,
        CASE WHEN odd THEN number_cell(angle_text, 'degrees?|deg|°') ELSE entry_angle_deg END AS entry_angle_deg,
        CASE WHEN odd THEN coalesce(
            number_cell(speed_text, '') / $unit_of_speed, number_cell(speed_text, 'mph'), number_cell(speed_text, 'km/h|kmh|kph|km') / $kmh_per_mph
        ) ELSE speed_mph END AS speed_mph,
        CASE WHEN odd THEN number_cell(rev_text, 'rpm|revs?') ELSE rev_rpm END AS rev_rpm,
        CASE WHEN odd AND blank_cell(foul_text, $nothing) THEN false ELSE foul END AS foul
    )
    FROM linked
),
judged AS (
    SELECT
        *,
        coalesce(lane BETWEEN $lane_low AND $lane_high AND lane = trunc(lane), false) AS lane_good,
        coalesce(game BETWEEN $game_low AND $game_high AND game = trunc(game), false) AS game_good,
        coalesce(frame BETWEEN $frame_low AND $frame_high AND frame = trunc(frame), false) AS frame_good,
        coalesce(delivery BETWEEN $delivery_low AND $delivery_high AND delivery = trunc(delivery), false)
            AS delivery_good
    FROM numbers
)
SELECT
    $file_no,
    line,
    CASE
        WHEN game_good AND frame_good AND misfit IS NULL
        THEN frame_key($file_no, $blocks, block_no, $bowlers, bowler_no, game, frame)
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
        WHEN misfit IS NOT NULL THEN $misfit
        -- A row of blanks, or of totals under a table, is no delivery.
        WHEN block_no IS NULL AND bowler_no IS NULL AND ball_no IS NULL AND NOT delivery_good AND (
            concat(date_text, block, bowler, ball, lane_text, game_text, frame_text, delivery_text, leave_text) = ''
            OR regexp_full_match(
                lower(coalesce(nullif(date_text, ''), nullif(block, ''), nullif(bowler, ''), ball)),
                $totals
            )
        ) THEN $no_record
        ELSE
        (block_no IS NULL)::INTEGER * $block_fault
        + (bowler_no IS NULL)::INTEGER * $bowler_fault
        + (NOT lane_good)::INTEGER * $lane_fault
        + (NOT game_good)::INTEGER * $game_fault
        + (NOT frame_good)::INTEGER * $frame_fault
        + (NOT delivery_good)::INTEGER * $delivery_fault
        + (ball_no IS NULL)::INTEGER * $ball_fault
        + coalesce(laydown_board NOT BETWEEN $laydown_board_low AND $laydown_board_high, false)::INTEGER
          * $laydown_board_fault
        + coalesce(arrow_board NOT BETWEEN $arrow_board_low AND $arrow_board_high, false)::INTEGER * $arrow_board_fault
        + coalesce(breakpoint_board NOT BETWEEN $breakpoint_board_low AND $breakpoint_board_high, false)::INTEGER
          * $breakpoint_board_fault
        + coalesce(breakpoint_ft NOT BETWEEN $breakpoint_ft_low AND $breakpoint_ft_high, false)::INTEGER
          * $breakpoint_ft_fault
        + coalesce(entry_board NOT BETWEEN $entry_board_low AND $entry_board_high, false)::INTEGER * $entry_board_fault
        + coalesce(entry_angle_deg NOT BETWEEN $entry_angle_deg_low AND $entry_angle_deg_high, false)::INTEGER
          * $entry_angle_deg_fault
        + coalesce(speed_mph NOT BETWEEN $speed_mph_low AND $speed_mph_high, false)::INTEGER * $speed_mph_fault
        + coalesce(rev_rpm NOT BETWEEN $rev_rpm_low AND $rev_rpm_high, false)::INTEGER * $rev_rpm_fault
        + (foul IS NULL)::INTEGER * $foul_fault
        + coalesce(owner_no <> bowler_no, false)::INTEGER * $owner_fault
        + CASE WHEN odd THEN
            (laydown_board IS NULL AND NOT blank_cell(laydown_text, $nothing))::INTEGER * $laydown_board_fault
            + (arrow_board IS NULL AND NOT blank_cell(arrow_text, $nothing))::INTEGER * $arrow_board_fault
            + (breakpoint_board IS NULL AND NOT blank_cell(breakpoint_text, $nothing))::INTEGER
              * $breakpoint_board_fault
            + (breakpoint_ft IS NULL AND NOT blank_cell(breakpoint_ft_text, $nothing))::INTEGER * $breakpoint_ft_fault
            + (entry_board IS NULL AND NOT blank_cell(entry_text, $nothing))::INTEGER * $entry_board_fault
            + (entry_angle_deg IS NULL AND NOT blank_cell(angle_text, $nothing))::INTEGER * $entry_angle_deg_fault
            + (speed_mph IS NULL AND NOT blank_cell(speed_text, $nothing))::INTEGER * $speed_mph_fault
            + (rev_rpm IS NULL AND NOT blank_cell(rev_text, $nothing))::INTEGER * $rev_rpm_fault
        ELSE 0 END
    END,
    CASE WHEN odd THEN list_filter(
        [
            cell_reading('laydown_board', laydown_text, laydown_board, $nothing),
            cell_reading('arrow_board', arrow_text, arrow_board, $nothing),
            cell_reading('breakpoint_board', breakpoint_text, breakpoint_board, $nothing),
            cell_reading('breakpoint_ft', breakpoint_ft_text, breakpoint_ft, $nothing),
            cell_reading('entry_board', entry_text, entry_board, $nothing),
            cell_reading('entry_angle_deg', angle_text, entry_angle_deg, $nothing),
            cell_reading('speed_mph', speed_text, speed_mph, $nothing),
            cell_reading('rev_rpm', rev_text, rev_rpm, $nothing),
            cell_reading('foul', CASE WHEN trim(foul_text) <> '-' THEN foul_text END, NULL, $nothing)
        ],
        lambda cell: cell.read_as IS NOT NULL
    ) END
FROM judged
