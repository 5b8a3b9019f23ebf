-- Grain: a piece of a part of which nothing is kept any more, dropped. Input: kept_apart, kept_fits. Reader: store/shelf.
DELETE FROM kept_apart WHERE NOT EXISTS (
    SELECT 1 FROM kept_fits WHERE kept_fits.key = kept_apart.key AND kept_fits.part = kept_apart.part
)
