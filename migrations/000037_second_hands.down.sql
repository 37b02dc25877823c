DROP TABLE second_hands;
