-- Grain: one row, or none: a part of the fits kept under a key, and its digest. Input: kept_fits. Reader: store/shelf.
SELECT content, digest FROM kept_fits WHERE key = $key AND part = $part
