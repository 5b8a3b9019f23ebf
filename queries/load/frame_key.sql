-- Grain: one frame of one bowler in one file, as a number that counts up in that order: file, block, bowler, game, frame.
-- Inputs: their numbers, and how many blocks and bowlers are known; no block has 64 games. Readers: load/stage_shots,
-- load/clashes. Without the file (0) it is the frame's place in the log.
CREATE OR REPLACE TEMP MACRO frame_key(file_no, blocks, block_no, bowlers, bowler_no, game, frame) AS
(((file_no::BIGINT * blocks + block_no) * bowlers + bowler_no) * 64 + game::BIGINT) * 16 + frame::BIGINT
