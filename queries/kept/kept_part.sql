-- Grain: one row, or none: a part of the fits kept under a key, and its digest. Reader: store/kept.
SELECT content, digest FROM kept_fits WHERE key = $key AND part = $part
