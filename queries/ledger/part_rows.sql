-- Grain: one part of one delivery of one bowler under one reference. Inputs: valued_deliveries, leave_types.
-- Reader: decisions/export/ledger_file. Parts of exactly 0 are left out; the rest add up to what the delivery changed.
WITH parts AS (
    UNPIVOT (
        SELECT * EXCLUDE (change, rack_before)
        FROM valued_deliveries
        WHERE reference = $reference AND bowler = $bowler
    )
    ON by_lane, by_ball, by_line, by_entry, by_carry, by_entry_and_carry, by_leave, by_spare, by_foul, by_order
    INTO NAME part VALUE change
)
SELECT
    p.reference AS against,
    p.bowler,
    p.date,
    p.block,
    p.pattern,
    p.pattern_class,
    p.game,
    p.frame,
    p.delivery,
    p.lane,
    p.ball,
    p.line,
    p.entry_half AS entry_board,
    p.entry_zone,
    faced.leave AS leave_faced,
    stood.leave AS leave_left,
    p.foul,
    p.complete,
    p.owed AS bonus_owed,
    p.pins AS pins_credited,
    p.expected AS expected_before,
    replace(p.part[4:], '_', ' ') AS part,
    p.change AS pins
FROM parts AS p
LEFT JOIN leave_types AS faced ON faced.standing = p.facing AND NOT p.rack_ball
LEFT JOIN leave_types AS stood ON stood.standing = p.standing AND p.standing <> 0
WHERE p.change <> 0
ORDER BY
    p.date, p.block, p.game, p.frame, p.delivery,
    list_position(
        [
            'by_lane', 'by_ball', 'by_line', 'by_entry', 'by_carry', 'by_entry_and_carry', 'by_leave', 'by_spare', 'by_foul',
            'by_order'
        ],
        p.part
    )
