-- Parties, their sites, and the way from an enquiry to an order with units.

CREATE TABLE buyer_class (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    name words NOT NULL CONSTRAINT buyer_class_name_once UNIQUE,
    step_pct numeric(5,2) NOT NULL DEFAULT 0 CONSTRAINT buyer_class_step CHECK (step_pct BETWEEN -100 AND 100)
);

CREATE TABLE party (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    made_at timestamptz NOT NULL DEFAULT now(),
    kind text NOT NULL DEFAULT 'person' CONSTRAINT party_kind CHECK (kind IN ('person', 'organisation')),
    name words NOT NULL DEFAULT '',
    town words NOT NULL DEFAULT '',
    business_number words NOT NULL DEFAULT '',
    buyer_class_id bigint REFERENCES buyer_class,
    found_by words NOT NULL DEFAULT '',
    notes prose NOT NULL DEFAULT '',
    joined_into_id bigint REFERENCES party CONSTRAINT party_not_itself CHECK (joined_into_id <> id),
    nameless_at timestamptz,
    put_away_at timestamptz,
    find tsvector GENERATED ALWAYS AS (to_tsvector('simple', name || ' ' || town)) STORED
);
CREATE INDEX party_find ON party USING gin (find) WITH (fastupdate = off);
CREATE INDEX party_name ON party (lower(name::text) text_pattern_ops, id);
CREATE INDEX party_joined ON party (joined_into_id) WHERE joined_into_id IS NOT NULL;

CREATE TABLE contact (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    party_id bigint NOT NULL REFERENCES party,
    kind text NOT NULL CONSTRAINT contact_kind CHECK (kind IN ('phone', 'email', 'other')),
    value words NOT NULL CONSTRAINT contact_value CHECK (length(trim(value)) > 0),
    normal text NOT NULL,
    person words NOT NULL DEFAULT '',
    put_away_at timestamptz
);
CREATE INDEX contact_party ON contact (party_id);
CREATE INDEX contact_normal ON contact (normal text_pattern_ops);
CREATE INDEX contact_tail ON contact (reverse(normal) text_pattern_ops);

CREATE TABLE site (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    party_id bigint REFERENCES party,
    name words NOT NULL DEFAULT '',
    address words NOT NULL DEFAULT '',
    town words NOT NULL DEFAULT '',
    region words NOT NULL DEFAULT '',
    postcode words NOT NULL DEFAULT '',
    latitude double precision CONSTRAINT site_latitude CHECK (latitude BETWEEN -90 AND 90),
    longitude double precision CONSTRAINT site_longitude CHECK (longitude BETWEEN -180 AND 180),
    time_zone words NOT NULL DEFAULT 'Australia/Brisbane',
    wall words NOT NULL DEFAULT '',
    wall_faces_deg numeric(4,1) CONSTRAINT site_wall_faces CHECK (wall_faces_deg >= 0 AND wall_faces_deg < 360),
    eave_out_mm numeric(8,1) CONSTRAINT site_eave_out CHECK (eave_out_mm >= 0),
    eave_above_mm numeric(8,1) CONSTRAINT site_eave_above CHECK (eave_above_mm >= 0),
    hives_there int NOT NULL DEFAULT 0 CONSTRAINT site_hives CHECK (hives_there >= 0),
    notes prose NOT NULL DEFAULT '',
    put_away_at timestamptz,
    CONSTRAINT site_both_coordinates CHECK ((latitude IS NULL) = (longitude IS NULL))
);
CREATE INDEX site_party ON site (party_id);

CREATE TABLE enquiry (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    happened_at timestamptz NOT NULL,
    recorded_at timestamptz NOT NULL DEFAULT now(),
    party_id bigint REFERENCES party,
    name words NOT NULL DEFAULT '',
    number words NOT NULL DEFAULT '',
    number_normal text NOT NULL DEFAULT '',
    place words NOT NULL DEFAULT '',
    wanted prose NOT NULL DEFAULT '',
    found_by words NOT NULL DEFAULT '',
    wish jsonb NOT NULL DEFAULT '{}',
    ring_again_on date,
    closed_at timestamptz,
    closed_because words NOT NULL DEFAULT '',
    find tsvector GENERATED ALWAYS AS (to_tsvector('simple', name || ' ' || place)) STORED,
    CONSTRAINT enquiry_name_or_number CHECK (party_id IS NOT NULL OR length(trim(name)) > 0 OR length(trim(number)) > 0)
);
CREATE INDEX enquiry_open ON enquiry (happened_at DESC, id DESC) WHERE closed_at IS NULL;
CREATE INDEX enquiry_when ON enquiry (happened_at DESC, id DESC);
CREATE INDEX enquiry_ring ON enquiry (ring_again_on) WHERE ring_again_on IS NOT NULL AND closed_at IS NULL;
CREATE INDEX enquiry_party ON enquiry (party_id);
CREATE INDEX enquiry_find ON enquiry USING gin (find) WITH (fastupdate = off);
CREATE INDEX enquiry_tail ON enquiry (reverse(number_normal) text_pattern_ops);

CREATE TABLE list_price (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    subject text NOT NULL CONSTRAINT list_price_subject CHECK (subject ~ '^(model|option|item|colony|service|timber):[0-9a-z_-]+$'),
    from_on date NOT NULL,
    price_minor bigint NOT NULL CONSTRAINT list_price_amount CHECK (price_minor >= 0),
    tax_code text NOT NULL DEFAULT 'standard',
    reason words NOT NULL DEFAULT '',
    recorded_at timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT list_price_day_once UNIQUE (subject, from_on)
);

CREATE TABLE quote (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    made_at timestamptz NOT NULL DEFAULT now(),
    number text,
    revision int NOT NULL DEFAULT 1 CONSTRAINT quote_revision CHECK (revision >= 1),
    revises_id bigint REFERENCES quote,
    party_id bigint NOT NULL REFERENCES party,
    site_id bigint REFERENCES site,
    enquiry_id bigint REFERENCES enquiry,
    varies_order_id bigint,
    intro prose NOT NULL DEFAULT '',
    valid_until date,
    date_at_acceptance boolean NOT NULL DEFAULT false,
    deposit_minor bigint NOT NULL DEFAULT 0 CONSTRAINT quote_deposit CHECK (deposit_minor >= 0),
    issued_at timestamptz,
    frozen jsonb,
    document_id bigint REFERENCES document,
    thrown_away_at timestamptz,
    CONSTRAINT quote_issued_whole CHECK ((issued_at IS NULL AND frozen IS NULL AND document_id IS NULL)
        OR (issued_at IS NOT NULL AND number IS NOT NULL AND valid_until IS NOT NULL AND frozen IS NOT NULL AND document_id IS NOT NULL)),
    CONSTRAINT quote_draft_thrown CHECK (thrown_away_at IS NULL OR issued_at IS NULL),
    CONSTRAINT quote_number_once UNIQUE (number, revision)
);
CREATE INDEX quote_party ON quote (party_id);
CREATE INDEX quote_enquiry ON quote (enquiry_id);
CREATE INDEX quote_when ON quote (made_at DESC, id DESC);
CREATE INDEX quote_valid ON quote (valid_until) WHERE issued_at IS NOT NULL;

CREATE FUNCTION keep_issued_quote() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF OLD.issued_at IS NOT NULL THEN
        RAISE EXCEPTION 'an issued quote never changes' USING ERRCODE = 'restrict_violation', CONSTRAINT = 'quote_issued_stays';
    END IF;
    RETURN CASE TG_OP WHEN 'DELETE' THEN OLD ELSE NEW END;
END $$;
CREATE TRIGGER issued_stays BEFORE UPDATE OR DELETE ON quote FOR EACH ROW EXECUTE FUNCTION keep_issued_quote();

CREATE TABLE quote_alternative (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    quote_id bigint NOT NULL REFERENCES quote ON DELETE CASCADE,
    letter char(1) NOT NULL CONSTRAINT quote_alternative_letter CHECK (letter BETWEEN 'A' AND 'Z'),
    title words NOT NULL DEFAULT '',
    wish jsonb NOT NULL DEFAULT '{}',
    box_on date,
    colony_on date,
    price_ex_tax_minor bigint NOT NULL DEFAULT 0,
    tax_minor bigint NOT NULL DEFAULT 0,
    price_minor bigint NOT NULL DEFAULT 0 CONSTRAINT quote_alternative_sum CHECK (price_minor = price_ex_tax_minor + tax_minor),
    cost_minor bigint NOT NULL DEFAULT 0,
    CONSTRAINT quote_alternative_letter_once UNIQUE (quote_id, letter)
);

CREATE TABLE quote_line (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    alternative_id bigint NOT NULL REFERENCES quote_alternative ON DELETE CASCADE,
    position int NOT NULL CONSTRAINT quote_line_position CHECK (position >= 1),
    kind text NOT NULL CONSTRAINT quote_line_kind CHECK (kind IN ('box', 'section', 'part', 'goods', 'colony', 'service', 'timber', 'text')),
    description words NOT NULL,
    quantity numeric(12,3) NOT NULL DEFAULT 1 CONSTRAINT quote_line_quantity CHECK (quantity > 0 AND quantity <= 100000),
    unit_price_minor bigint NOT NULL DEFAULT 0 CONSTRAINT quote_line_unit_price CHECK (unit_price_minor >= 0),
    tax_code text NOT NULL DEFAULT 'standard',
    tax_pct numeric(6,3) NOT NULL DEFAULT 0 CONSTRAINT quote_line_tax_pct CHECK (tax_pct BETWEEN 0 AND 100),
    price_ex_tax_minor bigint NOT NULL DEFAULT 0,
    tax_minor bigint NOT NULL DEFAULT 0,
    price_minor bigint NOT NULL DEFAULT 0 CONSTRAINT quote_line_sum CHECK (price_minor = price_ex_tax_minor + tax_minor),
    cost_minor bigint NOT NULL DEFAULT 0,
    model_revision_id bigint,
    timber_species_id bigint,
    bee_species_id bigint,
    item_id bigint,
    with_colony boolean NOT NULL DEFAULT false,
    options jsonb NOT NULL DEFAULT '[]',
    box_on date,
    colony_on date,
    needs jsonb NOT NULL DEFAULT '{}',
    CONSTRAINT quote_line_position_once UNIQUE (alternative_id, position)
);

CREATE FUNCTION keep_issued_quote_parts() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE q bigint; r jsonb;
BEGIN
    r := CASE TG_OP WHEN 'INSERT' THEN to_jsonb(NEW) ELSE to_jsonb(OLD) END;
    IF TG_TABLE_NAME = 'quote_alternative' THEN q := (r ->> 'quote_id')::bigint;
    ELSE SELECT a.quote_id INTO q FROM quote_alternative a WHERE a.id = (r ->> 'alternative_id')::bigint;
    END IF;
    IF EXISTS (SELECT 1 FROM quote WHERE id = q AND issued_at IS NOT NULL) THEN
        RAISE EXCEPTION 'an issued quote never changes' USING ERRCODE = 'restrict_violation', CONSTRAINT = 'quote_issued_stays';
    END IF;
    RETURN CASE TG_OP WHEN 'DELETE' THEN OLD ELSE NEW END;
END $$;
CREATE TRIGGER issued_stays BEFORE INSERT OR UPDATE OR DELETE ON quote_alternative FOR EACH ROW EXECUTE FUNCTION keep_issued_quote_parts();
CREATE TRIGGER issued_stays BEFORE INSERT OR UPDATE OR DELETE ON quote_line FOR EACH ROW EXECUTE FUNCTION keep_issued_quote_parts();

CREATE TABLE quote_event (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    quote_id bigint NOT NULL REFERENCES quote CONSTRAINT quote_event_once UNIQUE,
    kind text NOT NULL CONSTRAINT quote_event_kind CHECK (kind IN ('accepted', 'declined', 'withdrawn', 'revised')),
    alternative_id bigint REFERENCES quote_alternative,
    happened_at timestamptz NOT NULL,
    recorded_at timestamptz NOT NULL DEFAULT now(),
    note words NOT NULL DEFAULT '',
    accepted_lines jsonb,
    CONSTRAINT quote_event_alternative CHECK ((kind = 'accepted') = (alternative_id IS NOT NULL))
);
CREATE TRIGGER written_once BEFORE UPDATE OR DELETE ON quote_event FOR EACH ROW EXECUTE FUNCTION refuse_change();

CREATE TABLE sale_order (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    number text NOT NULL CONSTRAINT sale_order_number_once UNIQUE,
    party_id bigint NOT NULL REFERENCES party,
    site_id bigint REFERENCES site,
    quote_id bigint REFERENCES quote CONSTRAINT sale_order_quote_once UNIQUE,
    happened_at timestamptz NOT NULL,
    recorded_at timestamptz NOT NULL DEFAULT now(),
    their_number words NOT NULL DEFAULT '',
    deposit_minor bigint NOT NULL DEFAULT 0 CONSTRAINT sale_order_deposit CHECK (deposit_minor >= 0),
    typed_in boolean NOT NULL DEFAULT false,
    deposit_end text CONSTRAINT sale_order_deposit_end CHECK (deposit_end IN ('returned', 'kept', 'part returned')),
    deposit_returned_minor bigint CONSTRAINT sale_order_deposit_returned CHECK (deposit_returned_minor >= 0),
    notes prose NOT NULL DEFAULT ''
);
CREATE INDEX sale_order_party ON sale_order (party_id);
CREATE INDEX sale_order_when ON sale_order (happened_at DESC, id DESC);
ALTER TABLE quote ADD CONSTRAINT quote_varies_order FOREIGN KEY (varies_order_id) REFERENCES sale_order;

CREATE TABLE order_line (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    order_id bigint NOT NULL REFERENCES sale_order,
    position int NOT NULL CONSTRAINT order_line_position CHECK (position >= 1),
    quote_line_id bigint REFERENCES quote_line,
    kind text NOT NULL CONSTRAINT order_line_kind CHECK (kind IN ('box', 'section', 'part', 'goods', 'colony', 'service', 'timber', 'text')),
    description words NOT NULL,
    quantity numeric(12,3) NOT NULL CONSTRAINT order_line_quantity CHECK (quantity > 0 AND quantity <= 100000),
    unit_price_minor bigint NOT NULL CONSTRAINT order_line_unit_price CHECK (unit_price_minor >= 0),
    tax_code text NOT NULL DEFAULT 'standard',
    tax_pct numeric(6,3) NOT NULL DEFAULT 0 CONSTRAINT order_line_tax_pct CHECK (tax_pct BETWEEN 0 AND 100),
    price_ex_tax_minor bigint NOT NULL,
    tax_minor bigint NOT NULL,
    price_minor bigint NOT NULL CONSTRAINT order_line_sum CHECK (price_minor = price_ex_tax_minor + tax_minor),
    cost_minor bigint NOT NULL DEFAULT 0,
    model_revision_id bigint,
    timber_species_id bigint,
    bee_species_id bigint,
    item_id bigint,
    with_colony boolean NOT NULL DEFAULT false,
    options jsonb NOT NULL DEFAULT '[]',
    needs jsonb NOT NULL DEFAULT '{}',
    CONSTRAINT order_line_position_once UNIQUE (order_id, position)
);

CREATE TABLE order_unit (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    order_line_id bigint NOT NULL REFERENCES order_line,
    n int NOT NULL CONSTRAINT order_unit_n CHECK (n >= 1),
    wants_box boolean NOT NULL DEFAULT false,
    wants_colony boolean NOT NULL DEFAULT false,
    own_box boolean NOT NULL DEFAULT false,
    promised_box_on date,
    promised_colony_on date,
    site_id bigint REFERENCES site,
    handed_over_at timestamptz,
    returned_at timestamptz,
    cancelled_at timestamptz,
    cancelled_because words NOT NULL DEFAULT '',
    CONSTRAINT order_unit_n_once UNIQUE (order_line_id, n),
    CONSTRAINT order_unit_one_end CHECK (cancelled_at IS NULL OR handed_over_at IS NULL),
    CONSTRAINT order_unit_returned_after CHECK (returned_at IS NULL OR handed_over_at IS NOT NULL)
);
CREATE INDEX order_unit_open ON order_unit (promised_box_on, id) WHERE handed_over_at IS NULL AND cancelled_at IS NULL;
CREATE INDEX order_unit_colony_line ON order_unit (id) WHERE wants_colony AND handed_over_at IS NULL AND cancelled_at IS NULL;

CREATE TABLE promise_change (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    order_unit_id bigint NOT NULL REFERENCES order_unit,
    part text NOT NULL CONSTRAINT promise_change_part CHECK (part IN ('box', 'colony')),
    was_on date,
    became_on date,
    reason words NOT NULL DEFAULT '',
    at timestamptz NOT NULL DEFAULT now()
);
CREATE INDEX promise_change_unit ON promise_change (order_unit_id);

SELECT keep_record('buyer_class'), keep_record('party'), keep_record('contact'), keep_record('site'), keep_record('enquiry'), keep_record('list_price'),
    keep_record('quote'), keep_record('quote_event'), keep_record('sale_order'), keep_record('order_line'), keep_record('order_unit');

COMMENT ON TABLE buyer_class IS 'Classes of buyer and the step each gets off the list price.';
COMMENT ON COLUMN buyer_class.step_pct IS 'percent off the list price';
COMMENT ON TABLE party IS 'A person or an organisation.';
COMMENT ON COLUMN party.name IS 'may be empty while only a number is known';
COMMENT ON COLUMN party.found_by IS 'how they found the workshop';
COMMENT ON TABLE contact IS 'Ways to reach a party; a phone number is not unique, it offers those who use it.';
COMMENT ON COLUMN contact.value IS 'as typed';
COMMENT ON COLUMN contact.normal IS 'E.164 for phones, lower case for e-mail';
COMMENT ON COLUMN contact.person IS 'whom one reaches there, in an organisation';
COMMENT ON TABLE site IS 'A place where a hive stands or will stand.';
COMMENT ON COLUMN site.party_id IS 'none for the workshop''s own places';
COMMENT ON COLUMN site.latitude IS 'degrees, north positive';
COMMENT ON COLUMN site.longitude IS 'degrees, east positive';
COMMENT ON COLUMN site.wall IS 'brick, weatherboard, post...';
COMMENT ON COLUMN site.wall_faces_deg IS 'degrees from north, clockwise';
COMMENT ON COLUMN site.eave_out_mm IS 'mm';
COMMENT ON COLUMN site.eave_above_mm IS 'above the middle of the box front, mm';
COMMENT ON TABLE enquiry IS 'A buyer is asking.';
COMMENT ON COLUMN enquiry.number IS 'the phone number as typed';
COMMENT ON COLUMN enquiry.number_normal IS 'E.164';
COMMENT ON COLUMN enquiry.wish IS 'what was asked of the answer: model, options, timber, how many, colony';
COMMENT ON TABLE list_price IS 'Dated list prices, ex tax; a changed price keeps a reason.';
COMMENT ON COLUMN list_price.subject IS 'such as model:3, option:7, colony:2';
COMMENT ON COLUMN list_price.price_minor IS 'each, ex tax, minor units';
COMMENT ON TABLE quote IS 'A quote: a draft until issued; what is issued never changes.';
COMMENT ON COLUMN quote.number IS 'given when first issued; revisions share it';
COMMENT ON COLUMN quote.varies_order_id IS 'the order that this quote would vary';
COMMENT ON COLUMN quote.date_at_acceptance IS 'holds nothing: the date is confirmed when accepted';
COMMENT ON COLUMN quote.deposit_minor IS 'with tax, minor units';
COMMENT ON COLUMN quote.frozen IS 'all that the paper says, as issued: names, model revision, options, parts, minutes, costs, tax, terms';
COMMENT ON TABLE quote_alternative IS 'One way to have it; a quote offers one or more.';
COMMENT ON COLUMN quote_alternative.wish IS 'the question that the answer was worked out from';
COMMENT ON COLUMN quote_alternative.box_on IS 'promised day for the boxes';
COMMENT ON COLUMN quote_alternative.colony_on IS 'promised day for the colonies';
COMMENT ON COLUMN quote_alternative.price_ex_tax_minor IS 'minor units';
COMMENT ON COLUMN quote_alternative.tax_minor IS 'minor units';
COMMENT ON COLUMN quote_alternative.price_minor IS 'with tax, minor units';
COMMENT ON COLUMN quote_alternative.cost_minor IS 'what it costs today, minor units; never printed for a buyer';
COMMENT ON TABLE quote_line IS 'A line of an alternative.';
COMMENT ON COLUMN quote_line.unit_price_minor IS 'each, ex tax, minor units';
COMMENT ON COLUMN quote_line.tax_pct IS 'percent';
COMMENT ON COLUMN quote_line.price_ex_tax_minor IS 'of the line, minor units';
COMMENT ON COLUMN quote_line.tax_minor IS 'of the line, minor units';
COMMENT ON COLUMN quote_line.price_minor IS 'of the line with tax, minor units';
COMMENT ON COLUMN quote_line.cost_minor IS 'of the line, minor units';
COMMENT ON COLUMN quote_line.model_revision_id IS 'for box, section and part';
COMMENT ON COLUMN quote_line.with_colony IS 'the box is sold with a colony living in it';
COMMENT ON COLUMN quote_line.options IS 'ids of the options chosen';
COMMENT ON COLUMN quote_line.needs IS 'parts, board metres, fittings, minutes and costs as worked out';
COMMENT ON TABLE quote_event IS 'What became of an issued quote: written once, beside it. Lapsed is computed from the date.';
COMMENT ON COLUMN quote_event.accepted_lines IS 'ids and quantities, when only part was accepted';
COMMENT ON TABLE sale_order IS 'An order. Its state is computed from its units, never stored.';
COMMENT ON COLUMN sale_order.their_number IS 'an organisation''s own order number';
COMMENT ON COLUMN sale_order.deposit_minor IS 'asked for, with tax, minor units';
COMMENT ON COLUMN sale_order.typed_in IS 'an old order taken over from before the book';
COMMENT ON COLUMN sale_order.deposit_end IS 'what was decided on cancelling';
COMMENT ON COLUMN sale_order.deposit_returned_minor IS 'minor units';
COMMENT ON TABLE order_line IS 'A line of an order; a line of N has N units.';
COMMENT ON COLUMN order_line.unit_price_minor IS 'each, ex tax, minor units';
COMMENT ON COLUMN order_line.tax_pct IS 'percent';
COMMENT ON COLUMN order_line.price_ex_tax_minor IS 'of the line, minor units';
COMMENT ON COLUMN order_line.tax_minor IS 'of the line, minor units';
COMMENT ON COLUMN order_line.price_minor IS 'of the line with tax, minor units';
COMMENT ON COLUMN order_line.cost_minor IS 'as quoted, minor units';
COMMENT ON COLUMN order_line.options IS 'ids of the options chosen';
COMMENT ON COLUMN order_line.needs IS 'parts, board metres, fittings, minutes and costs as worked out';
COMMENT ON TABLE order_unit IS 'One piece of an order line: it holds a box, a colony, both or neither, and goes its own way.';
COMMENT ON COLUMN order_unit.own_box IS 'the colony goes into a box that the buyer has';
COMMENT ON COLUMN order_unit.site_id IS 'where it will stand, when not the order''s site';
COMMENT ON TABLE promise_change IS 'A change of promised dates, with the reason told to the buyer.';
