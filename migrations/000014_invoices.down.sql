ALTER TABLE payment DROP CONSTRAINT payment_credit_elsewhere, DROP CONSTRAINT payment_credit, DROP CONSTRAINT payment_method, DROP COLUMN other_order_id;
ALTER TABLE payment ADD CONSTRAINT payment_method CHECK (method IN ('cash', 'transfer', 'card', 'cheque', 'in kind'));
ALTER TABLE invoice_line DROP COLUMN adjusts_line_id, DROP COLUMN deducts_id;
DROP INDEX invoice_adjusts_id;
ALTER TABLE invoice DROP CONSTRAINT invoice_keeps_price, DROP CONSTRAINT invoice_adjustment_why, DROP COLUMN supplied_on, DROP COLUMN keeps_price, DROP COLUMN why;
ALTER TABLE party DROP COLUMN due_days;
