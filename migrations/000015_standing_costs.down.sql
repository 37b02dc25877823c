DROP TABLE standing_cost;
