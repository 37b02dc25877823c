-- What the workshop does or sells beside boxes and colonies: plain lines with a tax code.

CREATE TABLE service (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    name words NOT NULL CONSTRAINT service_name_once UNIQUE CONSTRAINT service_name CHECK (length(trim(name)) > 0),
    each words NOT NULL DEFAULT 'piece',
    unit_price_minor bigint NOT NULL CONSTRAINT service_price CHECK (unit_price_minor >= 0),
    tax_code text NOT NULL DEFAULT 'standard',
    seats int CONSTRAINT service_seats CHECK (seats BETWEEN 1 AND 1000),
    held_on date,
    put_away_at timestamptz
);
SELECT keep_record('service');
ALTER TABLE order_line ADD COLUMN service_id bigint REFERENCES service;
CREATE INDEX order_line_service ON order_line (service_id) WHERE service_id IS NOT NULL;
COMMENT ON TABLE service IS 'Splitting a hive, repair, minding, rescue, a course with seats, honey by the jar.';
COMMENT ON COLUMN service.each IS 'what one of it is: hive, hour, jar, seat';
COMMENT ON COLUMN service.unit_price_minor IS 'each, without tax, minor units';
COMMENT ON COLUMN service.seats IS 'of a course: how many there are';
COMMENT ON COLUMN service.held_on IS 'of a course: its day';
