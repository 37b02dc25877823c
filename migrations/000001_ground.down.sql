-- For tests: takes away what the step up has made.
DROP TABLE day_mark, attachment, document, counter, idempotency, sign_in_failure, sessions, token, account, tax_rate, tax_registration, guess, workshop, history;
DROP FUNCTION keep_record(regclass);
DROP FUNCTION note_history();
DROP FUNCTION next_version();
DROP FUNCTION refuse_change();
DROP DOMAIN words;
DROP DOMAIN prose;
