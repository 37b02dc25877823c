DROP TABLE wording_trouble;
DROP TABLE wording;
