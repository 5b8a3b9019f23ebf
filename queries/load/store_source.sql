-- Grain: one loaded file, in place of what was known of it. Input: the load. Readers: load/stored_sources, method page.
INSERT OR REPLACE INTO sources VALUES (
    $name, $path, $kind, $sha256, $read, $kept, $quarantined, $repaired, $refused, now()::TIMESTAMP, false
)
