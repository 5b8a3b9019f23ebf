-- Grain: one row: how many speeds a shots file holds, and the speed that nine in ten of them exceed. Input: staged_shots.
-- Reader: intake, which asks whether a whole file was logged in km/h.
SELECT count(speed_mph), quantile_cont(speed_mph, 0.1) FROM staged_shots WHERE file_no = ?
