-- The ground every room stands on: workshop, people who sign in, history, papers, counters.

CREATE DOMAIN words AS text CONSTRAINT words_short CHECK (length(VALUE) <= 200);
CREATE DOMAIN prose AS text CONSTRAINT prose_bounded CHECK (length(VALUE) <= 20000);

CREATE TABLE history (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    table_name text NOT NULL,
    row_id bigint NOT NULL,
    deed text NOT NULL CONSTRAINT history_deed CHECK (deed IN ('made', 'changed', 'removed')),
    actor_id bigint,
    actor_name text,
    request_id text,
    at timestamptz NOT NULL DEFAULT now(),
    was jsonb,
    became jsonb
);
CREATE INDEX history_of_row ON history (table_name, row_id, id);

CREATE FUNCTION note_history() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    o jsonb; n jsonb; was jsonb := '{}'; became jsonb := '{}'; k text; rid bigint;
BEGIN
    IF TG_OP = 'INSERT' THEN
        n := to_jsonb(NEW); became := n; was := NULL; rid := (n ->> 'id')::bigint;
    ELSIF TG_OP = 'DELETE' THEN
        o := to_jsonb(OLD); was := o; became := NULL; rid := (o ->> 'id')::bigint;
    ELSE
        o := to_jsonb(OLD); n := to_jsonb(NEW); rid := (n ->> 'id')::bigint;
        FOR k IN SELECT jsonb_object_keys(n) LOOP
            IF k NOT IN ('version', 'updated_at', 'find') AND (o -> k) IS DISTINCT FROM (n -> k) THEN
                was := was || jsonb_build_object(k, o -> k);
                became := became || jsonb_build_object(k, n -> k);
            END IF;
        END LOOP;
        IF became = '{}' THEN RETURN NULL; END IF;
    END IF;
    INSERT INTO history (table_name, row_id, deed, actor_id, actor_name, request_id, was, became)
    VALUES (TG_TABLE_NAME, rid,
        CASE TG_OP WHEN 'INSERT' THEN 'made' WHEN 'UPDATE' THEN 'changed' ELSE 'removed' END,
        nullif(current_setting('kerfbook.actor_id', true), '')::bigint,
        nullif(current_setting('kerfbook.actor_name', true), ''),
        nullif(current_setting('kerfbook.request_id', true), ''), was - 'find' - 'password_hash' - 'bytes', became - 'find' - 'password_hash' - 'bytes');
    RETURN NULL;
END $$;

CREATE FUNCTION next_version() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    NEW.version := OLD.version + 1;
    NEW.updated_at := now();
    RETURN NEW;
END $$;

-- keep_record gives a table its history and, where it has one, its version.
CREATE FUNCTION keep_record(t regclass) RETURNS void LANGUAGE plpgsql AS $$
BEGIN
    EXECUTE format('CREATE TRIGGER history AFTER INSERT OR UPDATE OR DELETE ON %s FOR EACH ROW EXECUTE FUNCTION note_history()', t);
    IF EXISTS (SELECT 1 FROM pg_attribute WHERE attrelid = t AND attname = 'version' AND NOT attisdropped) THEN
        EXECUTE format('CREATE TRIGGER next_version BEFORE UPDATE ON %s FOR EACH ROW EXECUTE FUNCTION next_version()', t);
    END IF;
END $$;

-- refuse_change is for what is issued or moved: it is never altered, never deleted.
CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '% rows are written once', TG_TABLE_NAME
        USING ERRCODE = 'restrict_violation', CONSTRAINT = TG_TABLE_NAME || '_written_once';
END $$;

CREATE TABLE workshop (
    id bigint PRIMARY KEY DEFAULT 1 CONSTRAINT workshop_single CHECK (id = 1),
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    name words NOT NULL CONSTRAINT workshop_name CHECK (length(trim(name)) > 0),
    maker_name words NOT NULL DEFAULT '',
    phone words NOT NULL DEFAULT '',
    email words NOT NULL DEFAULT '',
    address words NOT NULL DEFAULT '',
    town words NOT NULL DEFAULT '',
    region words NOT NULL DEFAULT '',
    postcode words NOT NULL DEFAULT '',
    country char(2) NOT NULL DEFAULT 'AU',
    latitude double precision CONSTRAINT workshop_latitude CHECK (latitude BETWEEN -90 AND 90),
    longitude double precision CONSTRAINT workshop_longitude CHECK (longitude BETWEEN -180 AND 180),
    time_zone words NOT NULL DEFAULT 'Australia/Brisbane',
    currency char(3) NOT NULL DEFAULT 'AUD',
    minor_digits smallint NOT NULL DEFAULT 2 CONSTRAINT workshop_minor_digits CHECK (minor_digits BETWEEN 0 AND 3),
    business_number words NOT NULL DEFAULT '',
    public_url words NOT NULL DEFAULT '',
    quote_valid_days int NOT NULL DEFAULT 30 CONSTRAINT workshop_quote_valid_days CHECK (quote_valid_days BETWEEN 1 AND 365),
    deposit_pct numeric(5,2) NOT NULL DEFAULT 30 CONSTRAINT workshop_deposit_pct CHECK (deposit_pct BETWEEN 0 AND 100),
    deposit_is text NOT NULL DEFAULT 'part payment' CONSTRAINT workshop_deposit_is CHECK (deposit_is IN ('part payment', 'security')),
    overhead_pct numeric(6,2) NOT NULL DEFAULT 15 CONSTRAINT workshop_overhead_pct CHECK (overhead_pct BETWEEN 0 AND 500),
    margin_pct numeric(5,2) NOT NULL DEFAULT 30 CONSTRAINT workshop_margin_pct CHECK (margin_pct >= 0 AND margin_pct < 100),
    hour_cost_minor bigint NOT NULL DEFAULT 4000 CONSTRAINT workshop_hour_cost CHECK (hour_cost_minor >= 0),
    delivery_km_cost_minor bigint NOT NULL DEFAULT 90 CONSTRAINT workshop_km_cost CHECK (delivery_km_cost_minor >= 0),
    round_to_minor bigint NOT NULL DEFAULT 100 CONSTRAINT workshop_round_to CHECK (round_to_minor >= 1),
    length_step_mm int NOT NULL DEFAULT 50 CONSTRAINT workshop_length_step CHECK (length_step_mm BETWEEN 1 AND 1000),
    saw_kerf_mm numeric(8,1) NOT NULL DEFAULT 3.2 CONSTRAINT workshop_saw_kerf CHECK (saw_kerf_mm BETWEEN 0 AND 20),
    mill_kerf_mm numeric(8,1) NOT NULL DEFAULT 3 CONSTRAINT workshop_mill_kerf CHECK (mill_kerf_mm BETWEEN 0 AND 30),
    mill_limit_mm numeric(8,1) NOT NULL DEFAULT 600 CONSTRAINT workshop_mill_limit CHECK (mill_limit_mm > 0),
    trim_mm numeric(8,1) NOT NULL DEFAULT 15 CONSTRAINT workshop_trim CHECK (trim_mm >= 0),
    keep_offcut_mm int NOT NULL DEFAULT 250 CONSTRAINT workshop_keep_offcut CHECK (keep_offcut_mm >= 0),
    guarantee prose NOT NULL DEFAULT '',
    ways_to_pay prose NOT NULL DEFAULT '',
    not_included prose NOT NULL DEFAULT '',
    could_delay prose NOT NULL DEFAULT '',
    terms prose NOT NULL DEFAULT '',
    label_sheet jsonb NOT NULL DEFAULT '{}',
    follow_up_days int[] NOT NULL DEFAULT '{1,14,60,365}',
    set_up_at timestamptz
);

CREATE TABLE guess (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    subject text NOT NULL CONSTRAINT guess_subject_once UNIQUE,
    noted_at timestamptz NOT NULL DEFAULT now()
);

CREATE TABLE tax_registration (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    from_on date NOT NULL CONSTRAINT tax_registration_day_once UNIQUE,
    registered boolean NOT NULL,
    tax_name words NOT NULL DEFAULT 'GST',
    recorded_at timestamptz NOT NULL DEFAULT now()
);

CREATE TABLE tax_rate (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    code text NOT NULL CONSTRAINT tax_rate_code CHECK (code ~ '^[a-z_]{2,20}$'),
    name words NOT NULL,
    from_on date NOT NULL,
    rate_pct numeric(6,3) NOT NULL CONSTRAINT tax_rate_pct CHECK (rate_pct BETWEEN 0 AND 100),
    CONSTRAINT tax_rate_day_once UNIQUE (code, from_on)
);
INSERT INTO tax_rate (code, name, from_on, rate_pct) VALUES
    ('standard', 'Taxed', '2000-07-01', 10), ('free', 'Tax free', '2000-07-01', 0);

CREATE TABLE account (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    sign_in text NOT NULL CONSTRAINT account_sign_in_form CHECK (sign_in = lower(sign_in) AND length(sign_in) BETWEEN 1 AND 60),
    name words NOT NULL,
    role text NOT NULL CONSTRAINT account_role CHECK (role IN ('owner', 'helper')),
    password_hash text NOT NULL,
    disabled_at timestamptz,
    made_at timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT account_sign_in_once UNIQUE (sign_in)
);

CREATE TABLE token (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    account_id bigint NOT NULL REFERENCES account,
    name words NOT NULL,
    hash bytea NOT NULL CONSTRAINT token_hash_once UNIQUE,
    made_at timestamptz NOT NULL DEFAULT now(),
    used_at timestamptz,
    withdrawn_at timestamptz
);
CREATE INDEX token_of_account ON token (account_id);

CREATE TABLE sessions (
    token text PRIMARY KEY,
    data bytea NOT NULL,
    expiry timestamptz NOT NULL
);
CREATE INDEX sessions_expiry ON sessions (expiry);

CREATE TABLE sign_in_failure (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    subject text NOT NULL,
    at timestamptz NOT NULL DEFAULT now()
);
CREATE INDEX sign_in_failure_lately ON sign_in_failure (subject, at);

CREATE TABLE idempotency (
    key text NOT NULL CONSTRAINT idempotency_key_length CHECK (length(key) BETWEEN 1 AND 200),
    actor_id bigint NOT NULL,
    route text NOT NULL,
    body_hash bytea NOT NULL,
    status int,
    headers jsonb,
    body bytea,
    made_at timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT idempotency_pk PRIMARY KEY (actor_id, key)
);
CREATE INDEX idempotency_age ON idempotency (made_at);

CREATE TABLE counter (
    name text PRIMARY KEY,
    next bigint NOT NULL DEFAULT 1 CONSTRAINT counter_next CHECK (next >= 1)
);

CREATE TABLE document (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    kind text NOT NULL CONSTRAINT document_kind CHECK (kind IN ('quote', 'order', 'invoice', 'adjustment', 'receipt', 'handover', 'run', 'site', 'label', 'jobcard', 'sawing', 'register', 'movement')),
    number text NOT NULL,
    revision int NOT NULL DEFAULT 1,
    issued_at timestamptz NOT NULL,
    sha256 bytea NOT NULL CONSTRAINT document_sha256 CHECK (length(sha256) = 32),
    bytes bytea NOT NULL,
    media_type text NOT NULL DEFAULT 'application/pdf',
    CONSTRAINT document_number_once UNIQUE (kind, number, revision)
);
CREATE TRIGGER written_once BEFORE UPDATE OR DELETE ON document FOR EACH ROW EXECUTE FUNCTION refuse_change();

CREATE TABLE attachment (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    table_name text NOT NULL,
    row_id bigint NOT NULL,
    name words NOT NULL DEFAULT '',
    media_type text NOT NULL CONSTRAINT attachment_media_type CHECK (media_type IN ('image/jpeg', 'application/pdf')),
    bytes bytea NOT NULL CONSTRAINT attachment_size CHECK (length(bytes) <= 4194304),
    sha256 bytea NOT NULL,
    recorded_at timestamptz NOT NULL DEFAULT now(),
    put_away_at timestamptz
);
CREATE INDEX attachment_of_row ON attachment (table_name, row_id);

CREATE TABLE day_mark (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    subject text NOT NULL CONSTRAINT day_mark_subject_once UNIQUE,
    put_off_to date,
    done_at timestamptz,
    at timestamptz NOT NULL DEFAULT now()
);

SELECT keep_record('workshop'), keep_record('account'), keep_record('token'), keep_record('tax_registration'), keep_record('tax_rate'), keep_record('attachment');

COMMENT ON TABLE history IS 'Who changed what, when, from what to what, on every record.';
COMMENT ON COLUMN history.was IS 'the changed fields as they were';
COMMENT ON COLUMN history.became IS 'the changed fields as they are since';
COMMENT ON TABLE workshop IS 'The workshop itself: one row, and the settings that papers and answers use.';
COMMENT ON COLUMN workshop.country IS 'ISO 3166-1 alpha-2; also how phone numbers without a country are read';
COMMENT ON COLUMN workshop.latitude IS 'degrees, north positive';
COMMENT ON COLUMN workshop.longitude IS 'degrees, east positive';
COMMENT ON COLUMN workshop.currency IS 'ISO 4217';
COMMENT ON COLUMN workshop.minor_digits IS 'decimals of the currency''s minor unit';
COMMENT ON COLUMN workshop.public_url IS 'address at which buyers can reach care pages; empty means no QR codes';
COMMENT ON COLUMN workshop.quote_valid_days IS 'days';
COMMENT ON COLUMN workshop.deposit_pct IS 'percent of the price with tax';
COMMENT ON COLUMN workshop.deposit_is IS 'changes when tax falls due: ask the bookkeeper';
COMMENT ON COLUMN workshop.overhead_pct IS 'percent on every cost line';
COMMENT ON COLUMN workshop.margin_pct IS 'wanted margin, percent of the price ex tax';
COMMENT ON COLUMN workshop.hour_cost_minor IS 'cost of one hour of the maker, minor units';
COMMENT ON COLUMN workshop.delivery_km_cost_minor IS 'cost of one kilometre driven, minor units';
COMMENT ON COLUMN workshop.round_to_minor IS 'prices with tax are rounded to this, minor units';
COMMENT ON COLUMN workshop.length_step_mm IS 'usable board lengths are rounded down to this, mm';
COMMENT ON COLUMN workshop.saw_kerf_mm IS 'kerf of the bench saw, mm';
COMMENT ON COLUMN workshop.mill_kerf_mm IS 'kerf of the mill, mm';
COMMENT ON COLUMN workshop.mill_limit_mm IS 'largest log the mill takes, mm';
COMMENT ON COLUMN workshop.trim_mm IS 'docked off each end of a board before use, mm';
COMMENT ON COLUMN workshop.keep_offcut_mm IS 'offcuts from this length up go back on the rack, mm';
COMMENT ON COLUMN workshop.guarantee IS 'two lines printed on quotes';
COMMENT ON COLUMN workshop.label_sheet IS 'label sheet measures in mm, see paper';
COMMENT ON COLUMN workshop.follow_up_days IS 'days after a handover on which to ask';
COMMENT ON TABLE guess IS 'Settings whose value is still a guess, by column or subject, so that pages can mark them.';
COMMENT ON COLUMN guess.subject IS 'such as workshop.hour_cost_minor';
COMMENT ON TABLE tax_registration IS 'Whether the workshop is registered for tax, from which day on.';
COMMENT ON TABLE tax_rate IS 'Tax codes a line can carry, with the rate by date.';
COMMENT ON COLUMN tax_rate.rate_pct IS 'percent of the net amount';
COMMENT ON TABLE account IS 'People who sign in.';
COMMENT ON TABLE token IS 'Bearer tokens of programs; only the hash is kept.';
COMMENT ON TABLE sessions IS 'Sign-ins of people, as the session library keeps them.';
COMMENT ON TABLE sign_in_failure IS 'Failed sign-ins, for throttling by name and by address.';
COMMENT ON TABLE idempotency IS 'First answers to requests that carried an Idempotency-Key.';
COMMENT ON TABLE counter IS 'Numbers without gaps: taken under a row lock in the transaction that uses them.';
COMMENT ON TABLE document IS 'Issued papers, byte for byte; a reprint returns these bytes.';
COMMENT ON TABLE attachment IS 'Photos (shrunk, without location) and PDFs kept with a record.';
COMMENT ON TABLE day_mark IS 'A line of the Day sheet that was done or put off, by the subject it speaks of.';
COMMENT ON COLUMN day_mark.subject IS 'such as quote:12:runs-out';
