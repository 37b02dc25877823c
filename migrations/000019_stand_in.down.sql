DROP TABLE stand_in;
