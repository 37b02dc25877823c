DROP TABLE limited_thing;
