-- Grain: none. Input: near_deliveries, which nothing reads once the shown bowlers' deliveries are a table. Reader: store/shown.
DROP TABLE near_deliveries
