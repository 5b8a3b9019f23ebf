-- Grain: one id of a block, whose code is its number. Input: known_blocks. Reader: load/stage_shots.
CREATE OR REPLACE TEMPORARY TYPE known_block AS ENUM (SELECT block FROM known_blocks ORDER BY block_no)
