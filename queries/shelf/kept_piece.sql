-- Grain: one row, or none: a piece of a part kept apart, and its digest. Input: kept_apart. Reader: store/shelf.
SELECT content, digest FROM kept_apart WHERE key = $key AND part = $part AND place = $place
