-- Deposit, progress and adjustment invoices; credit of one order used for another; days to pay of a party.

ALTER TABLE party ADD COLUMN due_days int CONSTRAINT party_due_days CHECK (due_days BETWEEN 0 AND 365);

ALTER TABLE invoice
    ADD COLUMN why words NOT NULL DEFAULT '',
    ADD COLUMN keeps_price boolean NOT NULL DEFAULT true,
    ADD COLUMN supplied_on date,
    ADD CONSTRAINT invoice_adjustment_why CHECK (kind <> 'adjustment' OR length(trim(why)) > 0),
    ADD CONSTRAINT invoice_keeps_price CHECK (keeps_price OR kind = 'adjustment');
CREATE INDEX invoice_adjusts_id ON invoice (adjusts_id) WHERE adjusts_id IS NOT NULL;

ALTER TABLE invoice_line
    ADD COLUMN deducts_id bigint REFERENCES invoice,
    ADD COLUMN adjusts_line_id bigint REFERENCES invoice_line;
CREATE INDEX invoice_line_deducts ON invoice_line (deducts_id) WHERE deducts_id IS NOT NULL;
CREATE INDEX invoice_line_adjusts ON invoice_line (adjusts_line_id) WHERE adjusts_line_id IS NOT NULL;

ALTER TABLE payment DROP CONSTRAINT payment_method;
ALTER TABLE payment ADD COLUMN other_order_id bigint REFERENCES sale_order,
    ADD CONSTRAINT payment_method CHECK (method IN ('cash', 'transfer', 'card', 'cheque', 'in kind', 'credit')),
    ADD CONSTRAINT payment_credit CHECK ((method = 'credit') = (other_order_id IS NOT NULL)),
    ADD CONSTRAINT payment_credit_elsewhere CHECK (other_order_id <> order_id);

COMMENT ON COLUMN party.due_days IS 'days to pay that were agreed with it; none: the usual ones';
COMMENT ON COLUMN invoice.why IS 'of an adjustment: what it is for';
COMMENT ON COLUMN invoice.keeps_price IS 'false on an adjustment: the buyer owes that much less; otherwise the pieces may be invoiced anew';
COMMENT ON COLUMN invoice.supplied_on IS 'day of supply where it is another than that of the invoice';
COMMENT ON COLUMN invoice_line.deducts_id IS 'the deposit or progress invoice that this line takes off';
COMMENT ON COLUMN invoice_line.adjusts_line_id IS 'of an adjustment: the line it takes off';
COMMENT ON COLUMN payment.other_order_id IS 'of a credit: the order of the same buyer that it comes from or goes to';
