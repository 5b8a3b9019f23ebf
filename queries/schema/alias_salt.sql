-- Grain: one row, random bytes made at the first load. Readers: decisions/alias, through the season.
-- Aliases depend on it, so a roster alone does not rebuild them; the same database gives the same aliases.
CREATE TABLE IF NOT EXISTS alias_salt (salt BLOB NOT NULL)
