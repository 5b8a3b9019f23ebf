-- Grain: one part of the fits, dropped, in whose place another is put. Input: kept_fits. Reader: store/shelf.
DELETE FROM kept_fits WHERE key = $key AND part = $part
