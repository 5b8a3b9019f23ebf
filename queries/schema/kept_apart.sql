-- Grain: a piece of one part of the fits that few readers ask for, as bytes of `pipeline/store/packing`. Reader: store/shelf.
CREATE TABLE IF NOT EXISTS kept_apart (
    key      VARCHAR NOT NULL,     -- these three as in kept_fits
    data     VARCHAR NOT NULL,
    part     VARCHAR NOT NULL,
    place    INTEGER NOT NULL,     -- among the pieces of the part
    digest   VARCHAR NOT NULL,     -- of key, part, place and content
    content  BLOB NOT NULL USING COMPRESSION uncompressed
)
