-- Grain: one part of the fits kept under a key, by name. Input: kept_fits. Reader: store/shelf.
SELECT part FROM kept_fits WHERE key = $key
