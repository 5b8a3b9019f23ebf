-- Grain: the table of pieces, dropped with that of parts. Reader: store/shelf.
DROP TABLE IF EXISTS kept_apart
