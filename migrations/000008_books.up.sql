-- Money that came and went, and what was invoiced.

CREATE TABLE payment (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    number text NOT NULL CONSTRAINT payment_number_once UNIQUE,
    order_id bigint NOT NULL REFERENCES sale_order,
    kind text NOT NULL CONSTRAINT payment_kind CHECK (kind IN ('deposit', 'payment', 'refund')),
    method text NOT NULL CONSTRAINT payment_method CHECK (method IN ('cash', 'transfer', 'card', 'cheque', 'in kind')),
    amount_minor bigint NOT NULL CONSTRAINT payment_amount CHECK (amount_minor > 0),
    in_kind words NOT NULL DEFAULT '',
    happened_at timestamptz NOT NULL,
    recorded_at timestamptz NOT NULL DEFAULT now(),
    document_id bigint REFERENCES document,
    note words NOT NULL DEFAULT '',
    CONSTRAINT payment_in_kind CHECK (method <> 'in kind' OR length(trim(in_kind)) > 0)
);
CREATE INDEX payment_order ON payment (order_id);
CREATE INDEX payment_when ON payment (happened_at DESC, id DESC);
CREATE TRIGGER written_once BEFORE UPDATE OR DELETE ON payment FOR EACH ROW EXECUTE FUNCTION refuse_change();

CREATE TABLE invoice (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    number text NOT NULL CONSTRAINT invoice_number_once UNIQUE,
    kind text NOT NULL CONSTRAINT invoice_kind CHECK (kind IN ('deposit', 'progress', 'final', 'adjustment')),
    adjusts_id bigint REFERENCES invoice,
    order_id bigint NOT NULL REFERENCES sale_order,
    party_id bigint NOT NULL REFERENCES party,
    invoice_on date NOT NULL,
    due_on date NOT NULL,
    issued_at timestamptz NOT NULL,
    registered boolean NOT NULL,
    price_ex_tax_minor bigint NOT NULL,
    tax_minor bigint NOT NULL,
    price_minor bigint NOT NULL CONSTRAINT invoice_sum CHECK (price_minor = price_ex_tax_minor + tax_minor),
    frozen jsonb NOT NULL,
    document_id bigint NOT NULL REFERENCES document,
    CONSTRAINT invoice_due CHECK (due_on >= invoice_on),
    CONSTRAINT invoice_adjusts CHECK ((kind = 'adjustment') = (adjusts_id IS NOT NULL)),
    CONSTRAINT invoice_unregistered_no_tax CHECK (registered OR tax_minor = 0)
);
CREATE INDEX invoice_order ON invoice (order_id);
CREATE INDEX invoice_when ON invoice (issued_at DESC, id DESC);
CREATE TRIGGER written_once BEFORE UPDATE OR DELETE ON invoice FOR EACH ROW EXECUTE FUNCTION refuse_change();

CREATE TABLE invoice_line (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    invoice_id bigint NOT NULL REFERENCES invoice,
    position int NOT NULL CONSTRAINT invoice_line_position CHECK (position >= 1),
    order_unit_id bigint REFERENCES order_unit,
    description words NOT NULL,
    quantity numeric(12,3) NOT NULL,
    unit_price_minor bigint NOT NULL,
    tax_code text NOT NULL,
    tax_pct numeric(6,3) NOT NULL,
    price_ex_tax_minor bigint NOT NULL,
    tax_minor bigint NOT NULL,
    price_minor bigint NOT NULL CONSTRAINT invoice_line_sum CHECK (price_minor = price_ex_tax_minor + tax_minor),
    CONSTRAINT invoice_line_once UNIQUE (invoice_id, position)
);
CREATE INDEX invoice_line_unit ON invoice_line (order_unit_id) WHERE order_unit_id IS NOT NULL;
CREATE TRIGGER written_once BEFORE UPDATE OR DELETE ON invoice_line FOR EACH ROW EXECUTE FUNCTION refuse_change();

SELECT keep_record('payment'), keep_record('invoice');

COMMENT ON TABLE payment IS 'Deposits, payments and refunds, as they happened.';
COMMENT ON COLUMN payment.amount_minor IS 'with tax, minor units; a refund goes out';
COMMENT ON COLUMN payment.in_kind IS 'what was given instead of money';
COMMENT ON COLUMN payment.document_id IS 'the receipt';
COMMENT ON TABLE invoice IS 'An issued invoice; it never changes.';
COMMENT ON COLUMN invoice.registered IS 'registered for tax on that day';
COMMENT ON COLUMN invoice.price_ex_tax_minor IS 'minor units';
COMMENT ON COLUMN invoice.tax_minor IS 'minor units';
COMMENT ON COLUMN invoice.price_minor IS 'with tax, minor units';
COMMENT ON COLUMN invoice.frozen IS 'all that the paper says, as issued';
COMMENT ON TABLE invoice_line IS 'A line of an invoice; a unit is invoiced once.';
COMMENT ON COLUMN invoice_line.unit_price_minor IS 'each, ex tax, minor units';
COMMENT ON COLUMN invoice_line.tax_pct IS 'percent';
COMMENT ON COLUMN invoice_line.price_ex_tax_minor IS 'of the line, minor units';
COMMENT ON COLUMN invoice_line.tax_minor IS 'of the line, minor units';
COMMENT ON COLUMN invoice_line.price_minor IS 'of the line with tax, minor units';
