-- Grain: one row: whether anything is kept of these data. Input: kept_fits. Reader: store/shelf.
SELECT count(*) > 0 FROM kept_fits WHERE data = $data
