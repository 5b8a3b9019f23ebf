-- Grain: one part of the fits, put into kept_fits. Reader: store/shelf.
INSERT INTO kept_fits VALUES ($key, $data, $part, $digest, $content, now()::TIMESTAMP)
