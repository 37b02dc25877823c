ALTER TABLE quote_line DROP CONSTRAINT quote_line_added, DROP COLUMN added, DROP COLUMN service_id;
