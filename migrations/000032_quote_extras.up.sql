-- A quote takes services and plain lines that the maker adds by hand beside what was worked out.

ALTER TABLE quote_line
    ADD COLUMN service_id bigint REFERENCES service (id),
    ADD COLUMN added boolean NOT NULL DEFAULT false,
    ADD CONSTRAINT quote_line_added CHECK (NOT added OR kind IN ('service', 'text'));
COMMENT ON COLUMN quote_line.service_id IS 'the service that a line of kind service was made from; a course''s seats are taken when the quote is accepted';
COMMENT ON COLUMN quote_line.added IS 'put on the draft by hand; only such a line can be taken off';
