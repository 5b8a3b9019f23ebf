-- Grain: one stored table: its rows, and a hash of what they hold and of their order. Input: stored tables that fits
-- and decisions read; times of loading are in none. Reader: store/shelf.
SELECT 'balls' AS name, count(*) AS n, sum(hash(t)) AS content
FROM (SELECT *, row_number() OVER () AS place FROM balls) AS t
UNION ALL
SELECT 'blocks', count(*), sum(hash(t)) FROM (SELECT *, row_number() OVER () AS place FROM blocks) AS t
UNION ALL
SELECT 'bowlers', count(*), sum(hash(t)) FROM (SELECT *, row_number() OVER () AS place FROM bowlers) AS t
UNION ALL
SELECT 'deliveries', count(*), sum(hash(t)) FROM (SELECT *, row_number() OVER () AS place FROM deliveries) AS t
UNION ALL
SELECT 'maintenance', count(*), sum(hash(t)) FROM (SELECT *, row_number() OVER () AS place FROM maintenance) AS t
UNION ALL
SELECT 'patterns', count(*), sum(hash(t)) FROM (SELECT *, row_number() OVER () AS place FROM patterns) AS t
ORDER BY name
