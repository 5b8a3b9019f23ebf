-- Grain: one row, random text made when the database was. Reader: decisions/alias, which gives labels by it.
-- It must never leave the database: with it and a roster, aliases can be traced back.
CREATE TABLE IF NOT EXISTS alias_salt (salt VARCHAR NOT NULL)
