-- Grain: one part of the fits kept, as bytes of `pipeline/store/packing`. Reader: store/shelf.
-- It can be emptied at any time: the next run fits again. Numbers hardly compress, and compressed ones would all have to be
-- read for one part.
CREATE TABLE IF NOT EXISTS kept_fits (
    key      VARCHAR NOT NULL,     -- hash of data, settings, bowlers fitted for and code
    data     VARCHAR NOT NULL,     -- hash of the data and the code alone
    part     VARCHAR NOT NULL,
    digest   VARCHAR NOT NULL,     -- of key, part and content: whether they belong together
    content  BLOB NOT NULL USING COMPRESSION uncompressed,
    kept_at  TIMESTAMP NOT NULL
)
