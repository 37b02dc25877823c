DROP TABLE search;
