DROP TABLE typed_in_line;
