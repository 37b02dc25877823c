DROP INDEX housing_box;
