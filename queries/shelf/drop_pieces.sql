-- Grain: a piece of one part of the fits, dropped, in whose place others are put. Input: kept_apart. Reader: store/shelf.
DELETE FROM kept_apart WHERE key = $key AND part = $part
