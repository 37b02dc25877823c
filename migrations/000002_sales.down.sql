-- For tests: takes away what the step up has made.
ALTER TABLE quote DROP CONSTRAINT quote_varies_order;
DROP TABLE promise_change, order_unit, order_line, sale_order, quote_event, quote_line, quote_alternative, quote, list_price, enquiry, site, contact, party, buyer_class;
DROP FUNCTION keep_issued_quote();
DROP FUNCTION keep_issued_quote_parts();
