-- Grain: a piece of one part of the fits, put into kept_apart. Reader: store/shelf.
INSERT INTO kept_apart VALUES ($key, $data, $part, $place, $digest, $content)
