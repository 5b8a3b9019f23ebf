-- Grain: one part kept, dropped if it is of other data or another version of the code, or not of the newest keys.
-- Input: kept_fits. Reader: store/shelf.
DELETE FROM kept_fits
WHERE
    data <> $data
    OR key NOT IN (SELECT key FROM kept_fits GROUP BY key ORDER BY max(kept_at) DESC, key LIMIT $keys)
