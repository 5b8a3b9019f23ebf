-- Grain: none. Input: near_deliveries, which nothing reads once the chosen's deliveries are a table. Reader: decisions/scope.
DROP TABLE near_deliveries
