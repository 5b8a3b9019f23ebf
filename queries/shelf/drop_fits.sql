-- Grain: the table of parts, dropped to be made anew, as an earlier version may have made it otherwise. Reader: store/shelf.
DROP TABLE IF EXISTS kept_fits
