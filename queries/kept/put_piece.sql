-- Grain: a piece of one part of the fits, put into kept_apart. Reader: store/kept.
INSERT INTO kept_apart VALUES ($key, $data, $part, $place, $digest, $content)
