-- Grain: one part of one delivery under one reference. Input: valued_deliveries. Reader: decisions/export/ledger_file.
-- Parts of exactly 0 are left out; the rest add up to what the delivery changed.
WITH long AS (
    UNPIVOT (SELECT * EXCLUDE (change, complete, rack_before) FROM valued_deliveries)
    ON by_lane, by_ball, by_line, by_entry, by_carry, by_entry_and_carry, by_leave, by_spare, by_foul, by_order
    INTO NAME part VALUE change
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
    entry_half AS entry_board,
    entry_zone,
    faced.leave AS leave_faced,
    stood.leave AS leave_left,
    owed,
    pins,
    part[4:] AS part,
    change
FROM long
LEFT JOIN leave_types AS faced ON faced.standing = long.facing AND NOT long.rack_ball
LEFT JOIN leave_types AS stood ON stood.standing = long.standing AND long.standing <> 0
WHERE change <> 0
