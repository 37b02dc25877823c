DROP INDEX order_unit_no_day;
