-- Grain: none. Input: near_deliveries, which nothing reads once the chosen's deliveries are a table. Reader: store/shown.
DROP TABLE near_deliveries
