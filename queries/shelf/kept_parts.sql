-- Grain: one part of the fits kept under a key, and its digest. Reader: store/shelf.
SELECT part, content, digest FROM kept_fits WHERE key = $key
