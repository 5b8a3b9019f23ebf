-- Grain: rows of one file whose fast reading failed. Input: staged_shots. Reader: intake, before it reads the file the slower way.
DELETE FROM staged_shots WHERE file_no = ?
