-- Grain: one way a frame was logged, over all bowlers. Input: frames. Reader: intake, which checks each once.
SELECT DISTINCT tenth, left_handed, first_mark, second_mark, third_mark FROM frames
