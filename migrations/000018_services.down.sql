ALTER TABLE order_line DROP COLUMN service_id;
DROP TABLE service;
