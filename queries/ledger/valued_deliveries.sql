-- Grain: one delivery of the ledger under one reference. Inputs: frame_states, blocks, pattern_classes, lines, entry_zones,
-- leave_types, and the tables pricing/ledger/deliveries fills: ledger_states, ledger_positions, ledger_base, ledger_leaves, ledger_stages,
-- ledger_boards_priced; macros rack_worth, leave_worth. Readers: ledger/block_totals, ledger/part_rows, ledger/rack_weights and
-- others of this folder, as valued_deliveries.
-- change: pins credited plus the worth of the state after, less the worth of the state before. by_...: its parts, in the order
-- in which things become known, each the change of the expectation weighed by how often each bonus is owed at that position;
-- by_order is the rest, what this very bonus adds or takes. A part that does not apply is 0.
CREATE OR REPLACE TEMP VIEW valued_deliveries AS
WITH known AS (
    SELECT
        f.*,
        bl.pattern,
        coalesce(pc.pattern_class, 'unposted') AS pattern_class,
        CASE WHEN f.rack_ball THEN coalesce(ln.line, 'line not logged') END AS line,
        CASE WHEN f.rack_ball AND NOT f.foul THEN round(f.entry_board * 2) / 2 END AS entry_half,
        CASE WHEN f.rack_ball AND NOT f.foul THEN ez.zone END AS entry_zone
    FROM frame_states AS f
    LEFT JOIN blocks AS bl USING (block)
    LEFT JOIN pattern_classes AS pc USING (pattern)
    LEFT JOIN lines AS ln ON ln.board = round(f.arrow_board)
    LEFT JOIN entry_zones AS ez ON ez.half_board = round(f.entry_board * 2) / 2
),
steps AS (
    SELECT
        k.*,
        b.reference,
        c.before AS rack_before,
        k.felled * k.times AS pins,
        CASE
            WHEN NOT k.rack_ball THEN leave_worth(faced.pins, faced.spare, faced.miss_pins, c)
            ELSE c.before
        END AS expected,
        CASE
            WHEN NOT k.rack_ball
                THEN k.felled * c.second_times + CASE WHEN k.standing = 0 THEN c.after_spare ELSE c.after_open END
            WHEN k.standing = 0 THEN 10 * c.first_times + c.after_strike
            ELSE k.felled * c.first_times + leave_worth(stood.pins, stood.spare, stood.miss_pins, c)
        END AS then_expected,
        rack_worth(b.strike, b.spare, b.first_pins, b.second_pins, m) AS at_base,
        rack_worth(s.lane_strike, s.lane_spare, s.lane_first_pins, s.lane_second_pins, m) AS at_lane,
        rack_worth(s.ball_strike, s.ball_spare, s.ball_first_pins, s.ball_second_pins, m) AS at_ball,
        rack_worth(s.line_strike, s.line_spare, s.line_first_pins, s.line_second_pins, m) AS at_line,
        rack_worth(e.strike, s.line_spare, s.line_first_pins, s.line_second_pins, m) AS at_entry,
        CASE
            WHEN k.standing = 0 THEN 10 * m.first_times + m.after_strike
            ELSE rack_worth(0, s.line_spare, s.line_first_pins, s.line_second_pins, m)
        END AS at_carry,
        CASE
            WHEN k.standing = 0 THEN 10 * m.first_times + m.after_strike
            ELSE k.felled * m.first_times + leave_worth(stood.pins, stood.spare, stood.miss_pins, m)
        END AS at_leave,
        leave_worth(faced.pins, faced.spare, faced.miss_pins, m) AS facing_it,
        k.felled * m.second_times + CASE WHEN k.standing = 0 THEN m.after_spare ELSE m.after_open END AS having_faced_it
    FROM known AS k
    JOIN ledger_base AS b ON b.bowler = k.bowler
    JOIN ledger_states AS c
        ON c.reference = b.reference AND c.bowler = k.bowler AND c.position = k.position AND c.owed = k.owed
    JOIN ledger_positions AS m ON m.reference = b.reference AND m.bowler = k.bowler AND m.position = k.position
    LEFT JOIN ledger_stages AS s
        ON k.rack_ball AND s.reference = b.reference AND s.bowler = k.bowler AND s.pattern IS NOT DISTINCT FROM k.pattern
        AND s.game = k.game AND s.ball = k.ball AND s.line = k.line
    LEFT JOIN ledger_boards_priced AS e
        ON e.reference = b.reference AND e.bowler = k.bowler AND e.pattern IS NOT DISTINCT FROM k.pattern
        AND e.game = k.game AND e.ball = k.ball AND e.line = k.line AND e.entry_half = k.entry_half
    LEFT JOIN ledger_leaves AS stood
        ON stood.reference = b.reference AND stood.bowler = k.bowler AND stood.standing = k.standing
    LEFT JOIN ledger_leaves AS faced
        ON faced.reference = b.reference AND faced.bowler = k.bowler AND faced.standing = k.facing AND NOT k.rack_ball
),
parts AS (
    SELECT
        *,
        then_expected - expected AS change,
        CASE WHEN rack_ball THEN at_lane - at_base ELSE 0 END AS by_lane,
        CASE WHEN rack_ball THEN at_ball - at_lane ELSE 0 END AS by_ball,
        CASE WHEN rack_ball THEN at_line - at_ball ELSE 0 END AS by_line,
        CASE WHEN rack_ball AND NOT foul AND at_entry IS NOT NULL THEN at_entry - at_line ELSE 0 END AS by_entry,
        CASE WHEN rack_ball AND NOT foul AND at_entry IS NOT NULL THEN at_carry - at_entry ELSE 0 END AS by_carry,
        CASE WHEN rack_ball AND NOT foul AND at_entry IS NULL THEN at_carry - at_line ELSE 0 END AS by_entry_and_carry,
        CASE WHEN rack_ball AND NOT foul THEN at_leave - at_carry ELSE 0 END AS by_leave,
        CASE WHEN NOT rack_ball AND NOT foul THEN having_faced_it - facing_it ELSE 0 END AS by_spare,
        CASE
            WHEN foul AND rack_ball THEN at_leave - at_line WHEN foul THEN having_faced_it - facing_it ELSE 0
        END AS by_foul
    FROM steps
)
SELECT
    reference,
    bowler,
    date,
    block,
    pattern,
    pattern_class,
    game,
    frame,
    delivery,
    lane,
    ball,
    line,
    entry_half,
    entry_zone,
    facing,
    standing,
    foul,
    rack_ball,
    position,
    owed,
    complete,
    pins,
    rack_before,
    expected,
    change,
    by_lane,
    by_ball,
    by_line,
    by_entry,
    by_carry,
    by_entry_and_carry,
    by_leave,
    by_spare,
    by_foul,
    change
    - (by_lane + by_ball + by_line + by_entry + by_carry + by_entry_and_carry + by_leave + by_spare + by_foul) AS by_order
FROM parts
