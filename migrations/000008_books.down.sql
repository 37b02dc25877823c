-- For tests: takes away what the step up has made.
DROP TABLE invoice_line, invoice, payment;
