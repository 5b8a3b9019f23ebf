-- Grain: one delivery whose state in its game is known: every one up to the first gap of a game logged from its first ball.
-- Input: deliveries. Readers: ledger/valued_deliveries, ledger/ledger_choices, ledger/ledger_boards, ledger/frame_shots.
-- position: where the rack was met, 1 to 10 for the first ball of a frame, 11 for the ball after a strike in the tenth, 12 for
-- a last ball at a new rack. owed: bonus owed when the rack was met, by number: 0 none, 1 a spare's, 2 a strike's, 3 two
-- strikes'. times: how often the delivery's pins count. complete: whether the game is logged to its end.
CREATE OR REPLACE TEMP VIEW frame_states AS
WITH in_turn AS (
    SELECT
        *,
        bit_count(facing)::INTEGER - bit_count(standing)::INTEGER AS felled,
        delivery = 1 OR first_ball AS rack_ball,
        frame < 10 AND delivery = 1 AND standing = 0 AS strike_claims,
        frame < 10 AND delivery = 2 AND standing = 0 AS spare_claims,
        lag(frame) OVER in_order AS frame_before,
        lag(delivery) OVER in_order AS delivery_before,
        lag(standing) OVER in_order AS standing_before
    FROM deliveries
    WINDOW in_order AS (PARTITION BY block, bowler, game ORDER BY frame, delivery)
),
claimed AS (
    SELECT
        *,
        coalesce(lag(strike_claims) OVER in_order, FALSE)::INTEGER AS strike_before,
        coalesce(lag(strike_claims, 2) OVER in_order, FALSE)::INTEGER AS strike_two_before,
        coalesce(lag(spare_claims) OVER in_order, FALSE)::INTEGER AS spare_before,
        bool_and(CASE
            WHEN frame_before IS NULL THEN frame = 1 AND delivery = 1
            WHEN frame_before < 10 AND (delivery_before = 2 OR standing_before = 0) THEN frame = frame_before + 1 AND delivery = 1
            ELSE frame = frame_before AND delivery = delivery_before + 1
        END) OVER (
            PARTITION BY block, bowler, game ORDER BY frame, delivery ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW
        ) AS reached,
        frame = 10 AND (delivery = 3 OR (delivery = 2 AND NOT rack_ball AND standing <> 0)) AS ends
    FROM in_turn
    WINDOW in_order AS (PARTITION BY block, bowler, game ORDER BY frame, delivery)
),
placed AS (
    SELECT
        *,
        CASE WHEN rack_ball THEN CASE WHEN frame = 10 THEN 9 + delivery ELSE frame END END AS rack_position,
        CASE strike_before + strike_two_before + spare_before
            WHEN 0 THEN 0 WHEN 2 THEN 3 ELSE 1 + strike_before
        END AS rack_owed
    FROM claimed
    WHERE reached
)
SELECT
    * EXCLUDE (
        strike_claims, spare_claims, frame_before, delivery_before, standing_before, strike_before, strike_two_before,
        spare_before, reached, ends, rack_position, rack_owed, line, source_file, note, repaired
    ),
    1 + strike_before + strike_two_before + spare_before AS times,
    coalesce(rack_position, lag(rack_position) OVER in_order)::INTEGER AS position,
    CASE WHEN rack_ball THEN rack_owed ELSE lag(rack_owed) OVER in_order END::INTEGER AS owed,
    bool_or(ends) OVER (PARTITION BY block, bowler, game) AS complete
FROM placed
WINDOW in_order AS (PARTITION BY block, bowler, game ORDER BY frame, delivery)
