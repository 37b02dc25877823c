-- The whole schema, for reading. Written by: go test ./internal/postgres -run SchemaDump -update


CREATE DOMAIN public.prose AS text
	CONSTRAINT prose_bounded CHECK ((length(VALUE) <= 20000));

CREATE DOMAIN public.words AS text
	CONSTRAINT words_short CHECK ((length(VALUE) <= 200));

CREATE FUNCTION public.claim_ours() RETURNS trigger
    LANGUAGE plpgsql
    AS $$
BEGIN
    IF NEW.box_id IS NOT NULL AND NOT EXISTS (
        SELECT 1 FROM box b JOIN box_owner o ON o.box_id = b.id AND o.to_at IS NULL
        WHERE b.id = NEW.box_id AND o.party_id IS NULL AND b.held_back_because = '' AND b.gone_at IS NULL AND b.stolen_at IS NULL) THEN
        RAISE EXCEPTION 'this box cannot be promised' USING ERRCODE = 'check_violation', CONSTRAINT = 'claim_box_ours';
    END IF;
    IF NEW.box_id IS NOT NULL AND EXISTS (
        SELECT 1 FROM housing h JOIN colony c ON c.id = h.colony_id WHERE h.box_id = NEW.box_id AND h.to_at IS NULL AND c.held_back_because <> '') THEN
        RAISE EXCEPTION 'the colony in this box is held back' USING ERRCODE = 'check_violation', CONSTRAINT = 'claim_box_bees_held';
    END IF;
    IF NEW.colony_id IS NOT NULL AND NOT EXISTS (
        SELECT 1 FROM colony c JOIN colony_owner o ON o.colony_id = c.id AND o.to_at IS NULL
        WHERE c.id = NEW.colony_id AND o.party_id IS NULL AND c.held_back_because = '' AND c.ended_at IS NULL) THEN
        RAISE EXCEPTION 'this colony cannot be promised' USING ERRCODE = 'check_violation', CONSTRAINT = 'claim_colony_ours';
    END IF;
    RETURN NEW;
END $$;

CREATE FUNCTION public.count_claim() RETURNS trigger
    LANGUAGE plpgsql
    AS $$
DECLARE was int := 0; becomes int := 0; d int; r claim;
BEGIN
    IF TG_OP = 'UPDATE' AND (NEW.lot_id, NEW.item_id, NEW.shelf_lot_id, NEW.pack_id, NEW.box_id, NEW.colony_id, NEW.order_unit_id, NEW.build_id)
        IS DISTINCT FROM (OLD.lot_id, OLD.item_id, OLD.shelf_lot_id, OLD.pack_id, OLD.box_id, OLD.colony_id, OLD.order_unit_id, OLD.build_id) THEN
        RAISE EXCEPTION 'a claim keeps its claimant and its thing' USING ERRCODE = 'restrict_violation', CONSTRAINT = 'claim_stays';
    END IF;
    IF TG_OP = 'UPDATE' AND OLD.ended_at IS NOT NULL THEN
        RAISE EXCEPTION 'an ended claim stays ended' USING ERRCODE = 'restrict_violation', CONSTRAINT = 'claim_stays';
    END IF;
    IF TG_OP = 'DELETE' THEN
        RAISE EXCEPTION 'claims are ended, not deleted' USING ERRCODE = 'restrict_violation', CONSTRAINT = 'claim_stays';
    END IF;
    r := NEW;
    IF TG_OP = 'UPDATE' AND OLD.strength = 'put aside' THEN was := OLD.quantity; END IF;
    IF NEW.strength = 'put aside' AND NEW.ended_at IS NULL THEN becomes := NEW.quantity; END IF;
    d := becomes - was;
    IF d <> 0 THEN
        PERFORM set_config('kerfbook.moving', 'yes', true);
        IF r.lot_id IS NOT NULL THEN UPDATE board_lot SET put_aside = put_aside + d WHERE id = r.lot_id;
        ELSIF r.item_id IS NOT NULL THEN UPDATE item SET put_aside = put_aside + d WHERE id = r.item_id;
        ELSIF r.shelf_lot_id IS NOT NULL THEN UPDATE shelf_lot SET put_aside = put_aside + d WHERE id = r.shelf_lot_id;
        END IF;
        PERFORM set_config('kerfbook.moving', '', true);
    END IF;
    RETURN NULL;
END $$;

CREATE TABLE public.host_tree (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    name public.words NOT NULL,
    site_id bigint,
    owner_party_id bigint,
    permission public.words DEFAULT ''::text NOT NULL,
    bee_species_id bigint,
    box_id bigint,
    fixed_on date,
    box_leaves boolean DEFAULT true NOT NULL,
    next_visit_on date,
    notes public.prose DEFAULT ''::text NOT NULL,
    put_away_at timestamp with time zone,
    permit_id bigint,
    place public.words DEFAULT ''::text NOT NULL,
    latitude double precision,
    longitude double precision,
    permission_on date,
    permission_until date,
    visit_every_days integer,
    settled_on date,
    colony_id bigint,
    put_away_because public.words DEFAULT ''::text NOT NULL,
    CONSTRAINT host_tree_both_coordinates CHECK (((latitude IS NULL) = (longitude IS NULL))),
    CONSTRAINT host_tree_every CHECK (((visit_every_days >= 1) AND (visit_every_days <= 730))),
    CONSTRAINT host_tree_latitude CHECK (((latitude >= ('-90'::integer)::double precision) AND (latitude <= (90)::double precision))),
    CONSTRAINT host_tree_longitude CHECK (((longitude >= ('-180'::integer)::double precision) AND (longitude <= (180)::double precision))),
    CONSTRAINT host_tree_permission_forward CHECK ((permission_until >= permission_on))
);

COMMENT ON TABLE public.host_tree IS 'A hollow tree that colonies are drawn from.';

COMMENT ON COLUMN public.host_tree.permission IS 'who allowed it';

COMMENT ON COLUMN public.host_tree.box_id IS 'the box fixed to it';

COMMENT ON COLUMN public.host_tree.box_leaves IS 'when settled the box leaves and the tree keeps its bees';

COMMENT ON COLUMN public.host_tree.next_visit_on IS 'as typed; none: reckoned by host_tree_due';

COMMENT ON COLUMN public.host_tree.permit_id IS 'the permit under which bees are drawn from it';

COMMENT ON COLUMN public.host_tree.place IS 'where it stands, in words';

COMMENT ON COLUMN public.host_tree.latitude IS 'degrees, north positive';

COMMENT ON COLUMN public.host_tree.longitude IS 'degrees, east positive';

COMMENT ON COLUMN public.host_tree.permission_on IS 'when it was allowed';

COMMENT ON COLUMN public.host_tree.permission_until IS 'last day for which it is allowed; none: until recalled';

COMMENT ON COLUMN public.host_tree.visit_every_days IS 'days between visits to this tree; none: those of the kind of bee';

COMMENT ON COLUMN public.host_tree.settled_on IS 'the colony in the box was seen settled';

COMMENT ON COLUMN public.host_tree.colony_id IS 'the colony of record in the box that is still fixed';

CREATE FUNCTION public.host_tree_due(t public.host_tree) RETURNS date
    LANGUAGE sql STABLE
    AS $$
SELECT CASE
    WHEN t.put_away_at IS NOT NULL THEN NULL
    WHEN t.next_visit_on IS NOT NULL THEN t.next_visit_on
    WHEN t.box_id IS NULL THEN NULL
    WHEN t.settled_on IS NOT NULL THEN CASE WHEN t.box_leaves THEN t.settled_on END
    ELSE (SELECT x.last_on + coalesce(t.visit_every_days, CASE WHEN cardinality(s.split_months) = 0 OR extract(month FROM x.last_on)::int = ANY (s.split_months) THEN s.tree_visit_days ELSE s.tree_visit_cold_days END, 42)
        FROM (SELECT greatest((SELECT (v.happened_at AT TIME ZONE coalesce((SELECT w.time_zone::text FROM workshop w LIMIT 1), 'UTC'))::date FROM host_tree_visit v WHERE v.host_tree_id = t.id ORDER BY v.happened_at DESC, v.id DESC LIMIT 1), t.fixed_on, CASE WHEN t.fixed_on IS NULL THEN t.updated_at::date END) AS last_on) x
        LEFT JOIN bee_species s ON s.id = t.bee_species_id)
END $$;

CREATE FUNCTION public.keep_counts() RETURNS trigger
    LANGUAGE plpgsql
    AS $$
BEGIN
    IF coalesce(current_setting('kerfbook.moving', true), '') <> 'yes' THEN
        IF TG_OP = 'INSERT' AND (NEW.on_hand <> 0 OR NEW.put_aside <> 0)
        OR TG_OP = 'UPDATE' AND (NEW.on_hand <> OLD.on_hand OR NEW.put_aside <> OLD.put_aside) THEN
            RAISE EXCEPTION 'counts change only with a move or a claim' USING ERRCODE = 'restrict_violation', CONSTRAINT = TG_TABLE_NAME || '_counts';
        END IF;
    END IF;
    RETURN NEW;
END $$;

CREATE FUNCTION public.keep_issued_quote() RETURNS trigger
    LANGUAGE plpgsql
    AS $$
BEGIN
    IF OLD.issued_at IS NOT NULL THEN
        RAISE EXCEPTION 'an issued quote never changes' USING ERRCODE = 'restrict_violation', CONSTRAINT = 'quote_issued_stays';
    END IF;
    RETURN CASE TG_OP WHEN 'DELETE' THEN OLD ELSE NEW END;
END $$;

CREATE FUNCTION public.keep_issued_quote_parts() RETURNS trigger
    LANGUAGE plpgsql
    AS $$
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

CREATE FUNCTION public.keep_record(t regclass) RETURNS void
    LANGUAGE plpgsql
    AS $$
BEGIN
    EXECUTE format('CREATE TRIGGER history AFTER INSERT OR UPDATE OR DELETE ON %s FOR EACH ROW EXECUTE FUNCTION note_history()', t);
    IF EXISTS (SELECT 1 FROM pg_attribute WHERE attrelid = t AND attname = 'version' AND NOT attisdropped) THEN
        EXECUTE format('CREATE TRIGGER next_version BEFORE UPDATE ON %s FOR EACH ROW EXECUTE FUNCTION next_version()', t);
    END IF;
END $$;

CREATE FUNCTION public.move_stock() RETURNS trigger
    LANGUAGE plpgsql
    AS $$
BEGIN
    PERFORM set_config('kerfbook.moving', 'yes', true);
    IF NEW.lot_id IS NOT NULL THEN
        UPDATE board_lot SET on_hand = on_hand + NEW.quantity WHERE id = NEW.lot_id;
    ELSIF NEW.item_id IS NOT NULL THEN
        UPDATE item SET on_hand = on_hand + NEW.quantity WHERE id = NEW.item_id;
    ELSE
        UPDATE shelf_lot SET on_hand = on_hand + NEW.quantity WHERE id = NEW.shelf_lot_id;
    END IF;
    PERFORM set_config('kerfbook.moving', '', true);
    RETURN NULL;
END $$;

CREATE FUNCTION public.movement_written_once() RETURNS trigger
    LANGUAGE plpgsql
    AS $$
BEGIN
    IF TG_OP = 'UPDATE' AND OLD.permit_number = '' AND OLD.permit_id IS NULL AND
        (to_jsonb(NEW) - 'permit_number' - 'permit_id') = (to_jsonb(OLD) - 'permit_number' - 'permit_id') THEN
        RETURN NEW;
    END IF;
    RAISE EXCEPTION 'movement rows are written once' USING ERRCODE = 'restrict_violation', CONSTRAINT = 'movement_written_once';
END $$;

CREATE FUNCTION public.next_version() RETURNS trigger
    LANGUAGE plpgsql
    AS $$
BEGIN
    NEW.version := OLD.version + 1;
    NEW.updated_at := now();
    RETURN NEW;
END $$;

CREATE FUNCTION public.note_history() RETURNS trigger
    LANGUAGE plpgsql
    AS $$
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

CREATE FUNCTION public.refuse_change() RETURNS trigger
    LANGUAGE plpgsql
    AS $$
BEGIN
    RAISE EXCEPTION '% rows are written once', TG_TABLE_NAME
        USING ERRCODE = 'restrict_violation', CONSTRAINT = TG_TABLE_NAME || '_written_once';
END $$;

CREATE FUNCTION public.refuse_ring() RETURNS trigger
    LANGUAGE plpgsql
    AS $$
BEGIN
    PERFORM pg_advisory_xact_lock(7213001);
    IF EXISTS (
        WITH RECURSIVE up (id) AS (
            SELECT NEW.parent_id
            UNION SELECT p.parent_id FROM colony_parent p JOIN up ON p.colony_id = up.id)
        SELECT 1 FROM up WHERE id = NEW.colony_id) THEN
        RAISE EXCEPTION 'a colony cannot be its own ancestor' USING ERRCODE = 'check_violation', CONSTRAINT = 'colony_parent_no_ring';
    END IF;
    RETURN NEW;
END $$;

CREATE TABLE public.account (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    sign_in text NOT NULL,
    name public.words NOT NULL,
    role text NOT NULL,
    password_hash text NOT NULL,
    disabled_at timestamp with time zone,
    made_at timestamp with time zone DEFAULT now() NOT NULL,
    CONSTRAINT account_role CHECK ((role = ANY (ARRAY['owner'::text, 'helper'::text]))),
    CONSTRAINT account_sign_in_form CHECK (((sign_in = lower(sign_in)) AND ((length(sign_in) >= 1) AND (length(sign_in) <= 60))))
);

COMMENT ON TABLE public.account IS 'People who sign in.';

ALTER TABLE public.account ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.account_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.after_care (
    id bigint DEFAULT 1 NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    guarantee_box_days integer NOT NULL,
    guarantee_colony_days integer NOT NULL,
    fetch_days integer[] NOT NULL,
    fetch_terms public.prose NOT NULL,
    CONSTRAINT after_care_box_days CHECK (((guarantee_box_days >= 0) AND (guarantee_box_days <= 36500))),
    CONSTRAINT after_care_colony_days CHECK (((guarantee_colony_days >= 0) AND (guarantee_colony_days <= 36500))),
    CONSTRAINT after_care_fetch_days CHECK ((cardinality(fetch_days) <= 20)),
    CONSTRAINT after_care_single CHECK ((id = 1))
);

COMMENT ON TABLE public.after_care IS 'One row: how long the guarantee runs, and when a buyer is reminded to fetch what is ready.';

COMMENT ON COLUMN public.after_care.guarantee_box_days IS 'days after the handover';

COMMENT ON COLUMN public.after_care.guarantee_colony_days IS 'days after the handover';

COMMENT ON COLUMN public.after_care.fetch_days IS 'days after it was ready to be fetched, one for each reminder';

COMMENT ON COLUMN public.after_care.fetch_terms IS 'the terms that the last reminder prints';

CREATE TABLE public.attachment (
    id bigint NOT NULL,
    table_name text NOT NULL,
    row_id bigint NOT NULL,
    name public.words DEFAULT ''::text NOT NULL,
    media_type text NOT NULL,
    bytes bytea NOT NULL,
    sha256 bytea NOT NULL,
    recorded_at timestamp with time zone DEFAULT now() NOT NULL,
    put_away_at timestamp with time zone,
    CONSTRAINT attachment_media_type CHECK ((media_type = ANY (ARRAY['image/jpeg'::text, 'application/pdf'::text]))),
    CONSTRAINT attachment_size CHECK ((length(bytes) <= 4194304))
);

COMMENT ON TABLE public.attachment IS 'Photos (shrunk, without location) and PDFs kept with a record.';

ALTER TABLE public.attachment ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.attachment_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.away (
    id bigint NOT NULL,
    from_on date NOT NULL,
    to_on date NOT NULL,
    why public.words DEFAULT ''::text NOT NULL,
    noted_at timestamp with time zone DEFAULT now() NOT NULL,
    CONSTRAINT away_forward CHECK ((to_on >= from_on))
);

COMMENT ON TABLE public.away IS 'Days away, illness too.';

ALTER TABLE public.away ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.away_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.bee_species (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    code text NOT NULL,
    name public.words NOT NULL,
    common_name public.words DEFAULT ''::text NOT NULL,
    natural_range public.prose DEFAULT ''::text NOT NULL,
    range_regions jsonb DEFAULT '[]'::jsonb NOT NULL,
    split_months integer[] DEFAULT '{}'::integer[] NOT NULL,
    split_interval_months integer,
    split_chance_pct numeric(5,2) DEFAULT 80 NOT NULL,
    flight_min_c numeric(4,1),
    heat_limit_c numeric(4,1),
    cold_limit_c numeric(4,1),
    flight_range_m integer,
    longest_closed_hours integer,
    settling_weeks integer,
    sources jsonb DEFAULT '{}'::jsonb NOT NULL,
    put_away_at timestamp with time zone,
    tree_visit_days integer,
    tree_visit_cold_days integer,
    CONSTRAINT bee_species_chance CHECK (((split_chance_pct >= (0)::numeric) AND (split_chance_pct <= (100)::numeric))),
    CONSTRAINT bee_species_closed CHECK (((longest_closed_hours >= 1) AND (longest_closed_hours <= 240))),
    CONSTRAINT bee_species_flight CHECK (((flight_range_m >= 1) AND (flight_range_m <= 20000))),
    CONSTRAINT bee_species_interval CHECK (((split_interval_months >= 1) AND (split_interval_months <= 60))),
    CONSTRAINT bee_species_settling CHECK (((settling_weeks >= 0) AND (settling_weeks <= 104))),
    CONSTRAINT bee_species_tree_visit CHECK (((tree_visit_days >= 1) AND (tree_visit_days <= 730))),
    CONSTRAINT bee_species_tree_visit_cold CHECK (((tree_visit_cold_days >= 1) AND (tree_visit_cold_days <= 730)))
);

COMMENT ON TABLE public.bee_species IS 'Kinds of bees: figures are data, each with its source.';

COMMENT ON COLUMN public.bee_species.name IS 'scientific';

COMMENT ON COLUMN public.bee_species.range_regions IS 'states or regions of the natural range, short codes';

COMMENT ON COLUMN public.bee_species.split_months IS 'months in the workshop''s hemisphere, 1 to 12';

COMMENT ON COLUMN public.bee_species.split_interval_months IS 'months';

COMMENT ON COLUMN public.bee_species.split_chance_pct IS 'percent of splits that settle';

COMMENT ON COLUMN public.bee_species.flight_min_c IS 'no flight below this air temperature, degrees Celsius';

COMMENT ON COLUMN public.bee_species.heat_limit_c IS 'protect from this air temperature up, degrees Celsius';

COMMENT ON COLUMN public.bee_species.cold_limit_c IS 'protect below this night temperature, degrees Celsius';

COMMENT ON COLUMN public.bee_species.flight_range_m IS 'metres';

COMMENT ON COLUMN public.bee_species.longest_closed_hours IS 'hours with the entrance closed';

COMMENT ON COLUMN public.bee_species.settling_weeks IS 'weeks from split to settled';

COMMENT ON COLUMN public.bee_species.sources IS 'source of each figure, by column';

COMMENT ON COLUMN public.bee_species.tree_visit_days IS 'days between visits to a box on a tree in the months for splitting';

COMMENT ON COLUMN public.bee_species.tree_visit_cold_days IS 'days between visits to a box on a tree in the other months';

ALTER TABLE public.bee_species ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.bee_species_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.bench_plan (
    id bigint NOT NULL,
    number integer NOT NULL,
    origin_at timestamp with time zone NOT NULL,
    why public.words DEFAULT ''::text NOT NULL,
    asked jsonb DEFAULT '{}'::jsonb NOT NULL,
    answered jsonb DEFAULT '{}'::jsonb NOT NULL,
    proposed_at timestamp with time zone DEFAULT now() NOT NULL,
    accepted_at timestamp with time zone,
    turned_down_at timestamp with time zone,
    change jsonb DEFAULT '{}'::jsonb NOT NULL,
    left_out jsonb DEFAULT '[]'::jsonb NOT NULL,
    CONSTRAINT bench_plan_one_end CHECK (((accepted_at IS NULL) OR (turned_down_at IS NULL)))
);

COMMENT ON TABLE public.bench_plan IS 'A plan of the bench: stored, numbered, laid anew only on purpose.';

COMMENT ON COLUMN public.bench_plan.origin_at IS 'minute 0 of the plan';

COMMENT ON COLUMN public.bench_plan.change IS 'the build that was held, let go or moved, and how; empty when it was laid as it is';

COMMENT ON COLUMN public.bench_plan.left_out IS 'builds that can never begin, each with its reason';

ALTER TABLE public.bench_plan ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.bench_plan_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.bench_plan_step (
    id bigint NOT NULL,
    plan_id bigint NOT NULL,
    build_id bigint NOT NULL,
    build_operation_id bigint,
    starts_at timestamp with time zone NOT NULL,
    ends_at timestamp with time zone NOT NULL,
    CONSTRAINT bench_plan_step_forward CHECK ((ends_at >= starts_at))
);

COMMENT ON TABLE public.bench_plan_step IS 'When the plan has an operation done.';

ALTER TABLE public.bench_plan_step ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.bench_plan_step_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.board_cut (
    id bigint NOT NULL,
    build_id bigint NOT NULL,
    plan_id bigint,
    layout integer,
    lot_id bigint NOT NULL,
    boards integer NOT NULL,
    cost_minor bigint DEFAULT 0 NOT NULL,
    cut_at timestamp with time zone NOT NULL,
    recorded_at timestamp with time zone DEFAULT now() NOT NULL,
    CONSTRAINT board_cut_boards CHECK ((boards >= 1)),
    CONSTRAINT board_cut_cost CHECK ((cost_minor >= 0)),
    CONSTRAINT board_cut_of_plan CHECK (((plan_id IS NULL) = (layout IS NULL)))
);

COMMENT ON TABLE public.board_cut IS 'Boards that were really cut, booked out with their offcuts.';

COMMENT ON COLUMN public.board_cut.build_id IS 'for which they were put aside';

COMMENT ON COLUMN public.board_cut.layout IS 'which layout of the plan, from 0';

COMMENT ON COLUMN public.board_cut.cost_minor IS 'of all these boards less their offcuts, minor units';

ALTER TABLE public.board_cut ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.board_cut_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.board_lot (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    species_id bigint NOT NULL,
    board_size_id bigint NOT NULL,
    grade text DEFAULT 'sound'::text NOT NULL,
    length_mm integer NOT NULL,
    thickness_true_mm numeric(8,1) NOT NULL,
    place public.words DEFAULT ''::text NOT NULL,
    pack_id bigint,
    offcut boolean DEFAULT false NOT NULL,
    metre_cost_minor bigint,
    on_hand integer DEFAULT 0 NOT NULL,
    put_aside integer DEFAULT 0 NOT NULL,
    first_in_on date DEFAULT CURRENT_DATE NOT NULL,
    CONSTRAINT board_lot_grade CHECK ((grade = ANY (ARRAY['clear'::text, 'sound'::text, 'knotty'::text]))),
    CONSTRAINT board_lot_length CHECK (((length_mm >= 1) AND (length_mm <= 20000))),
    CONSTRAINT board_lot_metre_cost CHECK ((metre_cost_minor >= 0)),
    CONSTRAINT board_lot_thickness CHECK ((thickness_true_mm > (0)::numeric)),
    CONSTRAINT board_lot_within CHECK (((0 <= put_aside) AND (put_aside <= on_hand)))
);

COMMENT ON TABLE public.board_lot IS 'Dressed boards on the rack, alike in all that matters.';

COMMENT ON COLUMN public.board_lot.board_size_id IS 'nominal';

COMMENT ON COLUMN public.board_lot.length_mm IS 'usable, rounded down to the step, mm';

COMMENT ON COLUMN public.board_lot.thickness_true_mm IS 'as measured, mm';

COMMENT ON COLUMN public.board_lot.metre_cost_minor IS 'real cost of a metre, minor units; none: the standard cost';

COMMENT ON COLUMN public.board_lot.first_in_on IS 'age of offcuts';

ALTER TABLE public.board_lot ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.board_lot_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.board_size (
    id bigint NOT NULL,
    width_mm numeric(8,1) NOT NULL,
    thickness_mm numeric(8,1) NOT NULL,
    CONSTRAINT board_size_thickness CHECK (((thickness_mm > (0)::numeric) AND (thickness_mm <= (500)::numeric))),
    CONSTRAINT board_size_width CHECK (((width_mm > (0)::numeric) AND (width_mm <= (2000)::numeric)))
);

COMMENT ON TABLE public.board_size IS 'Width x thickness of a board.';

COMMENT ON COLUMN public.board_size.width_mm IS 'mm';

COMMENT ON COLUMN public.board_size.thickness_mm IS 'mm';

ALTER TABLE public.board_size ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.board_size_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.box (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    serial text NOT NULL,
    model_revision_id bigint,
    build_id bigint,
    maker public.words DEFAULT ''::text NOT NULL,
    description public.words DEFAULT ''::text NOT NULL,
    timber_species_id bigint,
    options jsonb DEFAULT '[]'::jsonb NOT NULL,
    finished_at timestamp with time zone NOT NULL,
    cured_on date,
    cost_minor bigint,
    held_back_because public.words DEFAULT ''::text NOT NULL,
    stolen_at timestamp with time zone,
    gone_at timestamp with time zone,
    notes public.prose DEFAULT ''::text NOT NULL,
    recorded_at timestamp with time zone DEFAULT now() NOT NULL,
    CONSTRAINT box_cost CHECK ((cost_minor >= 0)),
    CONSTRAINT box_serial_form CHECK ((serial ~ '^[0-9]{4,8}$'::text))
);

COMMENT ON TABLE public.box IS 'A box with a serial for life; boxes of other makers are registered too.';

COMMENT ON COLUMN public.box.serial IS 'digits, the last is the check digit';

COMMENT ON COLUMN public.box.maker IS 'another maker''s name; empty: this workshop';

COMMENT ON COLUMN public.box.options IS 'ids of the options';

COMMENT ON COLUMN public.box.cured_on IS 'bees may live in it from this day';

COMMENT ON COLUMN public.box.cost_minor IS 'what it cost to make, minor units';

COMMENT ON COLUMN public.box.gone_at IS 'burnt, broken up';

CREATE TABLE public.box_asked (
    id bigint NOT NULL,
    box_id bigint NOT NULL,
    at timestamp with time zone DEFAULT now() NOT NULL
);

COMMENT ON TABLE public.box_asked IS 'The serial of a stolen box was typed into the public page; of who typed it nothing is kept.';

ALTER TABLE public.box_asked ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.box_asked_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

ALTER TABLE public.box ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.box_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.box_model (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    code text NOT NULL,
    name public.words NOT NULL,
    put_away_at timestamp with time zone
);

COMMENT ON TABLE public.box_model IS 'A box model; what it is made of stands in its revisions.';

ALTER TABLE public.box_model ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.box_model_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.box_option (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    code text NOT NULL,
    name public.words NOT NULL,
    kind text NOT NULL,
    model_id bigint,
    section public.words DEFAULT ''::text NOT NULL,
    fittings jsonb DEFAULT '[]'::jsonb NOT NULL,
    operations jsonb DEFAULT '[]'::jsonb NOT NULL,
    cure_days integer DEFAULT 0 NOT NULL,
    put_away_at timestamp with time zone,
    CONSTRAINT box_option_cure CHECK (((cure_days >= 0) AND (cure_days <= 365))),
    CONSTRAINT box_option_kind CHECK ((kind = ANY (ARRAY['section'::text, 'mount'::text, 'finish'::text, 'other'::text])))
);

COMMENT ON TABLE public.box_option IS 'What a buyer can choose on a box: a mount, a finish, a further honey section.';

COMMENT ON COLUMN public.box_option.model_id IS 'none: for every model';

COMMENT ON COLUMN public.box_option.section IS 'for a further section: the id of the model''s section it repeats';

COMMENT ON COLUMN public.box_option.fittings IS 'list of {code, count}';

COMMENT ON COLUMN public.box_option.operations IS 'list of {id, setup_minutes, piece_minutes, wait_minutes, needs}';

COMMENT ON COLUMN public.box_option.cure_days IS 'days before bees may live in it';

ALTER TABLE public.box_option ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.box_option_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.box_owner (
    id bigint NOT NULL,
    box_id bigint NOT NULL,
    party_id bigint,
    from_at timestamp with time zone NOT NULL,
    to_at timestamp with time zone,
    note public.words DEFAULT ''::text NOT NULL,
    recorded_at timestamp with time zone DEFAULT now(),
    CONSTRAINT box_owner_forward CHECK ((to_at >= from_at))
);

COMMENT ON TABLE public.box_owner IS 'Whose box it is, dated.';

COMMENT ON COLUMN public.box_owner.party_id IS 'none: the workshop';

COMMENT ON COLUMN public.box_owner.note IS 'how it came to them, and who told';

COMMENT ON COLUMN public.box_owner.recorded_at IS 'when it was written down; empty: before this was kept';

ALTER TABLE public.box_owner ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.box_owner_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.box_place (
    id bigint NOT NULL,
    box_id bigint NOT NULL,
    site_id bigint,
    place public.words DEFAULT ''::text NOT NULL,
    from_at timestamp with time zone NOT NULL,
    to_at timestamp with time zone,
    CONSTRAINT box_place_forward CHECK ((to_at >= from_at))
);

COMMENT ON TABLE public.box_place IS 'Where the box is, dated: at a site, or a place in the workshop.';

ALTER TABLE public.box_place ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.box_place_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.box_report (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    box_id bigint NOT NULL,
    stolen_at timestamp with time zone NOT NULL,
    reported_by public.words NOT NULL,
    police_reference public.words DEFAULT ''::text NOT NULL,
    note public.prose DEFAULT ''::text NOT NULL,
    recorded_at timestamp with time zone DEFAULT now() NOT NULL,
    recovered_at timestamp with time zone,
    recovered_how public.words DEFAULT ''::text NOT NULL,
    CONSTRAINT box_report_by CHECK ((length(TRIM(BOTH FROM reported_by)) > 0)),
    CONSTRAINT box_report_forward CHECK ((recovered_at >= stolen_at))
);

COMMENT ON TABLE public.box_report IS 'A box that was reported stolen, and that it was found again; box.stolen_at stands while a report is open.';

COMMENT ON COLUMN public.box_report.stolen_at IS 'gone since, or when it was missed';

COMMENT ON COLUMN public.box_report.reported_by IS 'who told the workshop';

COMMENT ON COLUMN public.box_report.recovered_at IS 'empty: not found';

ALTER TABLE public.box_report ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.box_report_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.box_section (
    id bigint NOT NULL,
    box_id bigint NOT NULL,
    section public.words NOT NULL,
    place_in_box integer NOT NULL,
    from_at timestamp with time zone NOT NULL,
    to_at timestamp with time zone,
    note public.words DEFAULT ''::text NOT NULL,
    came_from_id bigint,
    CONSTRAINT box_section_forward CHECK ((to_at >= from_at)),
    CONSTRAINT box_section_place CHECK ((place_in_box >= 1))
);

COMMENT ON TABLE public.box_section IS 'Which section sat in which box, at which place in it, from when to when.';

COMMENT ON COLUMN public.box_section.section IS 'id of the model''s section';

COMMENT ON COLUMN public.box_section.place_in_box IS 'from the bottom';

COMMENT ON COLUMN public.box_section.came_from_id IS 'where this section sat before: in which box, at which place';

ALTER TABLE public.box_section ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.box_section_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.build (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    number text NOT NULL,
    model_revision_id bigint NOT NULL,
    makes text DEFAULT 'box'::text NOT NULL,
    piece public.words DEFAULT ''::text NOT NULL,
    quantity integer NOT NULL,
    timber_species_id bigint,
    options jsonb DEFAULT '[]'::jsonb NOT NULL,
    parts jsonb DEFAULT '[]'::jsonb NOT NULL,
    fittings jsonb DEFAULT '[]'::jsonb NOT NULL,
    due_on date,
    not_before date,
    held_to date,
    made_at timestamp with time zone DEFAULT now() NOT NULL,
    started_at timestamp with time zone,
    finished_at timestamp with time zone,
    cancelled_at timestamp with time zone,
    notes public.prose DEFAULT ''::text NOT NULL,
    true_wall_mm numeric(8,1),
    borne_minor bigint DEFAULT 0 NOT NULL,
    CONSTRAINT build_makes CHECK ((makes = ANY (ARRAY['box'::text, 'section'::text, 'part'::text]))),
    CONSTRAINT build_one_end CHECK (((finished_at IS NULL) OR (cancelled_at IS NULL))),
    CONSTRAINT build_piece CHECK (((makes = 'box'::text) = ((piece)::text = ''::text))),
    CONSTRAINT build_quantity CHECK (((quantity >= 1) AND (quantity <= 1000))),
    CONSTRAINT build_true_wall CHECK ((true_wall_mm > (0)::numeric))
);

COMMENT ON TABLE public.build IS 'A batch on the bench: makes N of something of one model revision.';

COMMENT ON COLUMN public.build.piece IS 'which section or part, when not whole boxes';

COMMENT ON COLUMN public.build.options IS 'ids of the options chosen';

COMMENT ON COLUMN public.build.parts IS 'parts as worked out when the build was made: name, board size, length, count';

COMMENT ON COLUMN public.build.fittings IS 'fittings as worked out: code, count';

COMMENT ON COLUMN public.build.held_to IS 'the maker holds it to this day';

COMMENT ON COLUMN public.build.true_wall_mm IS 'true thickness of the boards its part lengths are reckoned with, mm; none: the model''s wall';

COMMENT ON COLUMN public.build.borne_minor IS 'cost that pieces finished before the rest bear already, minor units';

ALTER TABLE public.build ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.build_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.build_operation (
    id bigint NOT NULL,
    build_id bigint NOT NULL,
    "position" integer NOT NULL,
    name public.words NOT NULL,
    setup_min integer DEFAULT 0 NOT NULL,
    piece_min numeric(8,1) DEFAULT 0 NOT NULL,
    wait_min integer DEFAULT 0 NOT NULL,
    needs jsonb DEFAULT '[]'::jsonb NOT NULL,
    owner_only boolean DEFAULT false NOT NULL,
    done_at timestamp with time zone,
    CONSTRAINT build_operation_piece CHECK ((piece_min >= (0)::numeric)),
    CONSTRAINT build_operation_position CHECK (("position" >= 1)),
    CONSTRAINT build_operation_setup CHECK ((setup_min >= 0)),
    CONSTRAINT build_operation_wait CHECK ((wait_min >= 0))
);

COMMENT ON TABLE public.build_operation IS 'A step of a build, with its standard time.';

COMMENT ON COLUMN public.build_operation.setup_min IS 'minutes once a batch';

COMMENT ON COLUMN public.build_operation.piece_min IS 'minutes a piece';

COMMENT ON COLUMN public.build_operation.wait_min IS 'minutes afterwards that need no hands';

COMMENT ON COLUMN public.build_operation.needs IS 'ids of limited things';

ALTER TABLE public.build_operation ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.build_operation_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.build_output (
    id bigint NOT NULL,
    build_id bigint NOT NULL,
    n integer NOT NULL,
    order_unit_id bigint,
    box_id bigint,
    spoiled_at timestamp with time zone,
    finished_at timestamp with time zone,
    CONSTRAINT build_output_n CHECK ((n >= 1))
);

COMMENT ON TABLE public.build_output IS 'Where each piece of a build goes: to an order unit, or to the shelf.';

COMMENT ON COLUMN public.build_output.order_unit_id IS 'none: the shelf';

COMMENT ON COLUMN public.build_output.box_id IS 'the box it became';

COMMENT ON COLUMN public.build_output.finished_at IS 'when this piece was done';

ALTER TABLE public.build_output ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.build_output_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.buyer_class (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    name public.words NOT NULL,
    step_pct numeric(5,2) DEFAULT 0 NOT NULL,
    CONSTRAINT buyer_class_step CHECK (((step_pct >= ('-100'::integer)::numeric) AND (step_pct <= (100)::numeric)))
);

COMMENT ON TABLE public.buyer_class IS 'Classes of buyer and the step each gets off the list price.';

COMMENT ON COLUMN public.buyer_class.step_pct IS 'percent off the list price';

ALTER TABLE public.buyer_class ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.buyer_class_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.calendar_book (
    id bigint DEFAULT 1 NOT NULL,
    host text NOT NULL,
    CONSTRAINT calendar_book_single CHECK ((id = 1))
);

COMMENT ON TABLE public.calendar_book IS 'One row: what makes the ids of this book''s events unlike those of any other.';

CREATE TABLE public.calendar_feed (
    id bigint NOT NULL,
    name public.words NOT NULL,
    key text NOT NULL,
    shows jsonb DEFAULT '[]'::jsonb NOT NULL,
    phones boolean DEFAULT false NOT NULL,
    made_at timestamp with time zone DEFAULT now() NOT NULL,
    withdrawn_at timestamp with time zone,
    CONSTRAINT calendar_feed_name CHECK ((length(TRIM(BOTH FROM name)) > 0))
);

COMMENT ON TABLE public.calendar_feed IS 'A calendar feed; whoever knows its key reads it, until it is withdrawn.';

COMMENT ON COLUMN public.calendar_feed.shows IS 'list of builds, ready, handovers, runs, visits, away; empty: all';

COMMENT ON COLUMN public.calendar_feed.phones IS 'whether phone numbers of buyers stand in it';

ALTER TABLE public.calendar_feed ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.calendar_feed_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.claim (
    id bigint NOT NULL,
    order_unit_id bigint,
    build_id bigint,
    lot_id bigint,
    item_id bigint,
    shelf_lot_id bigint,
    pack_id bigint,
    box_id bigint,
    colony_id bigint,
    quantity integer DEFAULT 1 NOT NULL,
    strength text NOT NULL,
    made_at timestamp with time zone DEFAULT now() NOT NULL,
    promised_on date,
    ended_at timestamp with time zone,
    ended_how text,
    ended_because public.words DEFAULT ''::text NOT NULL,
    CONSTRAINT claim_end CHECK (((ended_at IS NULL) = (ended_how IS NULL))),
    CONSTRAINT claim_ended_how CHECK ((ended_how = ANY (ARRAY['used'::text, 'freed'::text, 'cancelled'::text, 'handed over'::text, 'broken by a fact'::text, 're-laid'::text]))),
    CONSTRAINT claim_one_body CHECK (((num_nonnulls(box_id, colony_id) = 0) OR (quantity = 1))),
    CONSTRAINT claim_one_claimant CHECK ((num_nonnulls(order_unit_id, build_id) = 1)),
    CONSTRAINT claim_one_thing CHECK ((num_nonnulls(lot_id, item_id, shelf_lot_id, pack_id, box_id, colony_id) = 1)),
    CONSTRAINT claim_pack_meant CHECK (((pack_id IS NULL) OR (strength = 'meant'::text))),
    CONSTRAINT claim_quantity CHECK ((quantity >= 1)),
    CONSTRAINT claim_strength CHECK ((strength = ANY (ARRAY['meant'::text, 'put aside'::text])))
);

COMMENT ON TABLE public.claim IS '(order unit or build) x (lot, item, shelf lot, pack, box or colony) x quantity.';

COMMENT ON COLUMN public.claim.quantity IS 'boards or pieces';

COMMENT ON COLUMN public.claim.promised_on IS 'of the claimant when made; the latest promise gives way first';

ALTER TABLE public.claim ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.claim_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.climate (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    name public.words NOT NULL,
    months jsonb NOT NULL,
    kind text DEFAULT 'open'::text NOT NULL,
    CONSTRAINT climate_kind CHECK ((kind = ANY (ARRAY['open'::text, 'solar'::text, 'heated'::text]))),
    CONSTRAINT climate_twelve CHECK ((jsonb_array_length(months) = 12))
);

COMMENT ON TABLE public.climate IS 'Weather of a drying place: twelve months of temperature and humidity.';

COMMENT ON COLUMN public.climate.months IS 'January first: temperature_c, humidity_pct';

COMMENT ON COLUMN public.climate.kind IS 'open air, a solar or a heated chamber';

ALTER TABLE public.climate ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.climate_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.colony (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    number text NOT NULL,
    name public.words DEFAULT ''::text NOT NULL,
    began_on date,
    began_about public.words DEFAULT ''::text NOT NULL,
    origin public.prose DEFAULT ''::text NOT NULL,
    settled_on date,
    settles_about date,
    held_back_because public.words DEFAULT ''::text NOT NULL,
    ended_at timestamp with time zone,
    ended_how public.words DEFAULT ''::text NOT NULL,
    notes public.prose DEFAULT ''::text NOT NULL,
    recorded_at timestamp with time zone DEFAULT now() NOT NULL,
    permit_id bigint,
    kept_to_split boolean,
    host_tree_id bigint,
    CONSTRAINT colony_end CHECK (((ended_at IS NULL) = ((ended_how)::text = ''::text)))
);

COMMENT ON TABLE public.colony IS 'A colony of bees.';

COMMENT ON COLUMN public.colony.began_about IS 'such as about 1961, where the day is not known';

COMMENT ON COLUMN public.colony.origin IS 'where from and with whose permission';

COMMENT ON COLUMN public.colony.settled_on IS 'ready to go from this day, as seen';

COMMENT ON COLUMN public.colony.settles_about IS 'expected, while it is not seen yet';

COMMENT ON COLUMN public.colony.held_back_because IS 'disease, inspection: not promised, moved or split';

COMMENT ON COLUMN public.colony.permit_id IS 'the permit under which it was taken';

COMMENT ON COLUMN public.colony.kept_to_split IS 'kept to be split and not given away; not said: as the log shows, which is so once it has been split';

COMMENT ON COLUMN public.colony.host_tree_id IS 'the tree it was drawn from';

CREATE TABLE public.colony_event (
    id bigint NOT NULL,
    colony_id bigint NOT NULL,
    kind text NOT NULL,
    happened_at timestamp with time zone NOT NULL,
    recorded_at timestamp with time zone DEFAULT now() NOT NULL,
    mass_kg numeric(6,2),
    note public.prose DEFAULT ''::text NOT NULL,
    happened_about public.words DEFAULT ''::text NOT NULL,
    CONSTRAINT colony_event_kind CHECK ((kind = ANY (ARRAY['split'::text, 'brood given'::text, 'united'::text, 'moved'::text, 'fed'::text, 'weighed'::text, 'inspected'::text, 'pests'::text, 'lost'::text, 'settled'::text, 'held back'::text, 'released'::text, 'note'::text]))),
    CONSTRAINT colony_event_mass CHECK (((mass_kg > (0)::numeric) AND (mass_kg < (500)::numeric)))
);

COMMENT ON TABLE public.colony_event IS 'What happened to a colony.';

COMMENT ON COLUMN public.colony_event.mass_kg IS 'of the whole hive, kg';

COMMENT ON COLUMN public.colony_event.happened_about IS 'such as about 1961, where the day is not known; happened_at is then the middle of it';

ALTER TABLE public.colony_event ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.colony_event_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

ALTER TABLE public.colony ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.colony_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.colony_keeper (
    id bigint NOT NULL,
    colony_id bigint NOT NULL,
    party_id bigint,
    agreed public.prose DEFAULT ''::text NOT NULL,
    from_at timestamp with time zone NOT NULL,
    to_at timestamp with time zone,
    CONSTRAINT colony_keeper_forward CHECK ((to_at >= from_at))
);

COMMENT ON TABLE public.colony_keeper IS 'In whose keeping it is, dated, with what was agreed.';

COMMENT ON COLUMN public.colony_keeper.party_id IS 'none: the workshop';

COMMENT ON COLUMN public.colony_keeper.agreed IS 'with somebody who keeps a colony of the workshop; what was agreed of others'' hives here stands in keeping';

ALTER TABLE public.colony_keeper ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.colony_keeper_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.colony_owner (
    id bigint NOT NULL,
    colony_id bigint NOT NULL,
    party_id bigint,
    from_at timestamp with time zone NOT NULL,
    to_at timestamp with time zone,
    CONSTRAINT colony_owner_forward CHECK ((to_at >= from_at))
);

COMMENT ON TABLE public.colony_owner IS 'Whose colony it is, dated.';

COMMENT ON COLUMN public.colony_owner.party_id IS 'none: the workshop';

ALTER TABLE public.colony_owner ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.colony_owner_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.colony_parent (
    id bigint NOT NULL,
    colony_id bigint NOT NULL,
    parent_id bigint NOT NULL,
    kind text NOT NULL,
    happened_on date,
    CONSTRAINT colony_parent_kind CHECK ((kind = ANY (ARRAY['split'::text, 'brood given'::text, 'united'::text]))),
    CONSTRAINT colony_parent_not_itself CHECK ((colony_id <> parent_id))
);

COMMENT ON TABLE public.colony_parent IS 'A parent of a colony; zero to several, no rings.';

ALTER TABLE public.colony_parent ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.colony_parent_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.colony_place (
    id bigint NOT NULL,
    colony_id bigint NOT NULL,
    site_id bigint,
    place public.words DEFAULT ''::text NOT NULL,
    from_at timestamp with time zone NOT NULL,
    to_at timestamp with time zone,
    CONSTRAINT colony_place_forward CHECK ((to_at >= from_at))
);

COMMENT ON TABLE public.colony_place IS 'Where the colony is, dated.';

ALTER TABLE public.colony_place ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.colony_place_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.colony_species (
    id bigint NOT NULL,
    colony_id bigint NOT NULL,
    bee_species_id bigint NOT NULL,
    found_on date NOT NULL,
    sure boolean DEFAULT true NOT NULL,
    found_by public.words DEFAULT ''::text NOT NULL,
    recorded_at timestamp with time zone DEFAULT now() NOT NULL
);

COMMENT ON TABLE public.colony_species IS 'Which species it is: a finding with a day, sure or not.';

ALTER TABLE public.colony_species ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.colony_species_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.contact (
    id bigint NOT NULL,
    party_id bigint NOT NULL,
    kind text NOT NULL,
    value public.words NOT NULL,
    normal text NOT NULL,
    person public.words DEFAULT ''::text NOT NULL,
    put_away_at timestamp with time zone,
    CONSTRAINT contact_kind CHECK ((kind = ANY (ARRAY['phone'::text, 'email'::text, 'other'::text]))),
    CONSTRAINT contact_value CHECK ((length(TRIM(BOTH FROM value)) > 0))
);

COMMENT ON TABLE public.contact IS 'Ways to reach a party; a phone number is not unique, it offers those who use it.';

COMMENT ON COLUMN public.contact.value IS 'as typed';

COMMENT ON COLUMN public.contact.normal IS 'E.164 for phones, lower case for e-mail';

COMMENT ON COLUMN public.contact.person IS 'whom one reaches there, in an organisation';

ALTER TABLE public.contact ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.contact_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.counter (
    name text NOT NULL,
    next bigint DEFAULT 1 NOT NULL,
    CONSTRAINT counter_next CHECK ((next >= 1))
);

COMMENT ON TABLE public.counter IS 'Numbers without gaps: taken under a row lock in the transaction that uses them.';

CREATE TABLE public.cut_part (
    id bigint NOT NULL,
    board_cut_id bigint NOT NULL,
    build_id bigint NOT NULL,
    part public.words NOT NULL,
    count integer NOT NULL,
    length_mm numeric(8,1) NOT NULL,
    CONSTRAINT cut_part_count CHECK ((count >= 1)),
    CONSTRAINT cut_part_length CHECK ((length_mm > (0)::numeric))
);

COMMENT ON TABLE public.cut_part IS 'Parts that came from boards that were cut, and for which build.';

COMMENT ON COLUMN public.cut_part.length_mm IS 'of one, mm';

ALTER TABLE public.cut_part ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.cut_part_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.cutting (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    laid_at timestamp with time zone DEFAULT now() NOT NULL,
    accepted_at timestamp with time zone,
    ended_at timestamp with time zone,
    pinned jsonb DEFAULT '[]'::jsonb NOT NULL,
    left_out jsonb DEFAULT '[]'::jsonb NOT NULL,
    best jsonb
);

COMMENT ON TABLE public.cutting IS 'One or several builds whose boards are cut together.';

COMMENT ON COLUMN public.cutting.accepted_at IS 'when its boards were put aside; none: they are meant';

COMMENT ON COLUMN public.cutting.ended_at IS 'when the last of its builds left it';

COMMENT ON COLUMN public.cutting.pinned IS 'ids of lots that the maker wants used';

COMMENT ON COLUMN public.cutting.left_out IS 'list of {lot_id, count}: boards that the maker leaves out; count 0 is all';

COMMENT ON COLUMN public.cutting.best IS 'what the best plan without the maker''s choice would take: boards, length_mm, cost_minor, missing_mm';

CREATE TABLE public.cutting_build (
    id bigint NOT NULL,
    cutting_id bigint NOT NULL,
    build_id bigint NOT NULL,
    left_at timestamp with time zone
);

COMMENT ON TABLE public.cutting_build IS 'Which builds are cut together; a build is in one cutting at a time.';

ALTER TABLE public.cutting_build ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.cutting_build_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

ALTER TABLE public.cutting ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.cutting_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.cutting_plan (
    id bigint NOT NULL,
    build_id bigint NOT NULL,
    board_size_id bigint NOT NULL,
    asked jsonb NOT NULL,
    answered jsonb NOT NULL,
    laid_at timestamp with time zone DEFAULT now() NOT NULL,
    accepted_at timestamp with time zone,
    replaced_at timestamp with time zone,
    cutting_id bigint,
    grade text DEFAULT 'knotty'::text NOT NULL,
    CONSTRAINT cutting_plan_grade CHECK ((grade = ANY (ARRAY['clear'::text, 'sound'::text, 'knotty'::text])))
);

COMMENT ON TABLE public.cutting_plan IS 'A cutting plan as laid for a build, with its proof.';

COMMENT ON COLUMN public.cutting_plan.asked IS 'input of the calculation';

COMMENT ON COLUMN public.cutting_plan.answered IS 'output of the calculation';

COMMENT ON COLUMN public.cutting_plan.cutting_id IS 'the cutting it was laid for';

COMMENT ON COLUMN public.cutting_plan.grade IS 'poorest grade that its parts allow';

ALTER TABLE public.cutting_plan ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.cutting_plan_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.day_mark (
    id bigint NOT NULL,
    subject text NOT NULL,
    put_off_to date,
    done_at timestamp with time zone,
    at timestamp with time zone DEFAULT now() NOT NULL
);

COMMENT ON TABLE public.day_mark IS 'A line of the Day sheet that was done or put off, by the subject it speaks of.';

COMMENT ON COLUMN public.day_mark.subject IS 'such as quote:12:runs-out';

ALTER TABLE public.day_mark ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.day_mark_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.document (
    id bigint NOT NULL,
    kind text NOT NULL,
    number text NOT NULL,
    revision integer DEFAULT 1 NOT NULL,
    issued_at timestamp with time zone NOT NULL,
    sha256 bytea NOT NULL,
    bytes bytea NOT NULL,
    media_type text DEFAULT 'application/pdf'::text NOT NULL,
    CONSTRAINT document_kind CHECK ((kind = ANY (ARRAY['quote'::text, 'order'::text, 'invoice'::text, 'adjustment'::text, 'receipt'::text, 'handover'::text, 'run'::text, 'site'::text, 'label'::text, 'jobcard'::text, 'sawing'::text, 'register'::text, 'movement'::text]))),
    CONSTRAINT document_sha256 CHECK ((length(sha256) = 32))
);

COMMENT ON TABLE public.document IS 'Issued papers, byte for byte; a reprint returns these bytes.';

ALTER TABLE public.document ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.document_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.dressing (
    id bigint NOT NULL,
    pack_id bigint,
    lot_id bigint,
    happened_at timestamp with time zone NOT NULL,
    recorded_at timestamp with time zone DEFAULT now() NOT NULL,
    taken integer NOT NULL,
    taken_mm bigint NOT NULL,
    came_mm bigint NOT NULL,
    taken_mm3 bigint NOT NULL,
    came_mm3 bigint NOT NULL,
    minutes integer DEFAULT 0 NOT NULL,
    by_whom public.words DEFAULT ''::text NOT NULL,
    docked_for text DEFAULT ''::text NOT NULL,
    boards_minor bigint DEFAULT 0 NOT NULL,
    drying_minor bigint DEFAULT 0 NOT NULL,
    labour_minor bigint DEFAULT 0 NOT NULL,
    CONSTRAINT dressing_boards_cost CHECK ((boards_minor >= 0)),
    CONSTRAINT dressing_came_length CHECK ((came_mm >= 0)),
    CONSTRAINT dressing_came_volume CHECK ((came_mm3 >= 0)),
    CONSTRAINT dressing_docked_for CHECK ((docked_for = ANY (ARRAY[''::text, 'checks'::text, 'knots'::text, 'wane'::text, 'stain'::text, 'borers'::text, 'twist'::text, 'other'::text]))),
    CONSTRAINT dressing_drying_cost CHECK ((drying_minor >= 0)),
    CONSTRAINT dressing_labour_cost CHECK ((labour_minor >= 0)),
    CONSTRAINT dressing_minutes CHECK (((minutes >= 0) AND (minutes <= 10000))),
    CONSTRAINT dressing_of_one CHECK ((num_nonnulls(pack_id, lot_id) = 1)),
    CONSTRAINT dressing_taken CHECK ((taken >= 0)),
    CONSTRAINT dressing_taken_length CHECK ((taken_mm >= 0)),
    CONSTRAINT dressing_taken_volume CHECK ((taken_mm3 >= 0))
);

COMMENT ON TABLE public.dressing IS 'Boards of a pack that were dressed, or of a lot that were ripped narrower: what went in, what came, what it cost.';

COMMENT ON COLUMN public.dressing.taken IS 'boards';

COMMENT ON COLUMN public.dressing.taken_mm IS 'length of the boards that went in, mm';

COMMENT ON COLUMN public.dressing.came_mm IS 'usable length that came, strips counted by their width and a kerf, mm';

COMMENT ON COLUMN public.dressing.taken_mm3 IS 'mm3';

COMMENT ON COLUMN public.dressing.came_mm3 IS 'mm3';

COMMENT ON COLUMN public.dressing.minutes IS 'minutes at the planer and the saw';

COMMENT ON COLUMN public.dressing.docked_for IS 'what most of the docking was for';

COMMENT ON COLUMN public.dressing.boards_minor IS 'share of log, haulage and sawing, or the boards that were ripped, minor units';

COMMENT ON COLUMN public.dressing.drying_minor IS 'the space in which they dried, minor units';

COMMENT ON COLUMN public.dressing.labour_minor IS 'minor units';

ALTER TABLE public.dressing ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.dressing_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.dressing_lot (
    id bigint NOT NULL,
    dressing_id bigint NOT NULL,
    lot_id bigint NOT NULL,
    count integer NOT NULL,
    boards_minor bigint DEFAULT 0 NOT NULL,
    drying_minor bigint DEFAULT 0 NOT NULL,
    labour_minor bigint DEFAULT 0 NOT NULL,
    CONSTRAINT dressing_lot_boards_cost CHECK ((boards_minor >= 0)),
    CONSTRAINT dressing_lot_count CHECK ((count > 0)),
    CONSTRAINT dressing_lot_drying_cost CHECK ((drying_minor >= 0)),
    CONSTRAINT dressing_lot_labour_cost CHECK ((labour_minor >= 0))
);

COMMENT ON TABLE public.dressing_lot IS 'Boards that came of a dressing, and the cost they carry.';

COMMENT ON COLUMN public.dressing_lot.boards_minor IS 'minor units';

COMMENT ON COLUMN public.dressing_lot.drying_minor IS 'minor units';

COMMENT ON COLUMN public.dressing_lot.labour_minor IS 'minor units';

ALTER TABLE public.dressing_lot ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.dressing_lot_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.dry_operation (
    id bigint NOT NULL,
    model_id bigint NOT NULL,
    name text NOT NULL,
    CONSTRAINT dry_operation_name CHECK (((length(name) >= 1) AND (length(name) <= 200)))
);

COMMENT ON TABLE public.dry_operation IS 'Operations of a model, or of options on it, that need dry weather.';

ALTER TABLE public.dry_operation ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.dry_operation_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.enquiry (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    happened_at timestamp with time zone NOT NULL,
    recorded_at timestamp with time zone DEFAULT now() NOT NULL,
    party_id bigint,
    name public.words DEFAULT ''::text NOT NULL,
    number public.words DEFAULT ''::text NOT NULL,
    number_normal text DEFAULT ''::text NOT NULL,
    place public.words DEFAULT ''::text NOT NULL,
    wanted public.prose DEFAULT ''::text NOT NULL,
    found_by public.words DEFAULT ''::text NOT NULL,
    wish jsonb DEFAULT '{}'::jsonb NOT NULL,
    ring_again_on date,
    closed_at timestamp with time zone,
    closed_because public.words DEFAULT ''::text NOT NULL,
    find tsvector GENERATED ALWAYS AS (to_tsvector('simple'::regconfig, (((name)::text || ' '::text) || (place)::text))) STORED,
    CONSTRAINT enquiry_name_or_number CHECK (((party_id IS NOT NULL) OR (length(TRIM(BOTH FROM name)) > 0) OR (length(TRIM(BOTH FROM number)) > 0)))
);

COMMENT ON TABLE public.enquiry IS 'A buyer is asking.';

COMMENT ON COLUMN public.enquiry.number IS 'the phone number as typed';

COMMENT ON COLUMN public.enquiry.number_normal IS 'E.164';

COMMENT ON COLUMN public.enquiry.wish IS 'what was asked of the answer: model, options, timber, how many, colony';

ALTER TABLE public.enquiry ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.enquiry_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.fetch_reminder (
    id bigint NOT NULL,
    order_id bigint NOT NULL,
    ready_on date NOT NULL,
    after_days integer NOT NULL,
    told_at timestamp with time zone NOT NULL,
    words public.prose NOT NULL,
    CONSTRAINT fetch_reminder_days CHECK (((after_days >= 0) AND (after_days <= 3650)))
);

COMMENT ON TABLE public.fetch_reminder IS 'A buyer was reminded to fetch what is ready.';

COMMENT ON COLUMN public.fetch_reminder.ready_on IS 'since when it could be fetched';

COMMENT ON COLUMN public.fetch_reminder.after_days IS 'the day of the settings it was for';

COMMENT ON COLUMN public.fetch_reminder.words IS 'as they were sent';

ALTER TABLE public.fetch_reminder ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.fetch_reminder_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.fit (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    name public.words NOT NULL,
    notes public.prose DEFAULT ''::text NOT NULL
);

COMMENT ON TABLE public.fit IS 'Sizes at which sections meet; the same fit interchanges for ever.';

ALTER TABLE public.fit ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.fit_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.fit_size (
    id bigint NOT NULL,
    fit_id bigint NOT NULL,
    name public.words NOT NULL,
    nominal_mm numeric(8,1) NOT NULL,
    low_mm numeric(8,1) NOT NULL,
    high_mm numeric(8,1) NOT NULL,
    CONSTRAINT fit_size_limits CHECK (((low_mm > (0)::numeric) AND (low_mm <= nominal_mm) AND (nominal_mm <= high_mm)))
);

COMMENT ON TABLE public.fit_size IS 'One gauge size of a fit.';

COMMENT ON COLUMN public.fit_size.nominal_mm IS 'mm';

COMMENT ON COLUMN public.fit_size.low_mm IS 'smallest that still fits, mm';

COMMENT ON COLUMN public.fit_size.high_mm IS 'largest that still fits, mm';

ALTER TABLE public.fit_size ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.fit_size_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.follow_up (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    handover_id bigint NOT NULL,
    due_on date NOT NULL,
    answered_at timestamp with time zone,
    answer text,
    why public.words DEFAULT ''::text NOT NULL,
    lost_on date,
    CONSTRAINT follow_up_answer CHECK ((answer = ANY (ARRAY['alive'::text, 'weak'::text, 'lost'::text, 'unknown'::text]))),
    CONSTRAINT follow_up_answered CHECK (((answer IS NULL) = (answered_at IS NULL)))
);

COMMENT ON TABLE public.follow_up IS 'A question to ask some days after a handover; no answer is unknown, not alive.';

COMMENT ON COLUMN public.follow_up.lost_on IS 'when it was lost, as far as the buyer knows';

ALTER TABLE public.follow_up ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.follow_up_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.guarantee_claim (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    handover_id bigint NOT NULL,
    happened_at timestamp with time zone NOT NULL,
    recorded_at timestamp with time zone DEFAULT now() NOT NULL,
    what public.prose NOT NULL,
    decided_at timestamp with time zone,
    decision text,
    cost_minor bigint,
    note public.words DEFAULT ''::text NOT NULL,
    about text DEFAULT 'box'::text NOT NULL,
    until_on date,
    decided_by public.words DEFAULT ''::text NOT NULL,
    CONSTRAINT guarantee_claim_about CHECK ((about = ANY (ARRAY['box'::text, 'colony'::text]))),
    CONSTRAINT guarantee_claim_cost CHECK ((cost_minor >= 0)),
    CONSTRAINT guarantee_claim_decided CHECK (((decision IS NULL) = (decided_at IS NULL))),
    CONSTRAINT guarantee_claim_decision CHECK ((decision = ANY (ARRAY['replaced'::text, 'repaired'::text, 'refunded'::text, 'declined'::text])))
);

COMMENT ON TABLE public.guarantee_claim IS 'A claim on the guarantee, with the owner''s decision and its cost.';

COMMENT ON COLUMN public.guarantee_claim.cost_minor IS 'minor units';

COMMENT ON COLUMN public.guarantee_claim.until_on IS 'last day of the guarantee it asks for; NULL: not known';

ALTER TABLE public.guarantee_claim ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.guarantee_claim_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.guess (
    id bigint NOT NULL,
    subject text NOT NULL,
    noted_at timestamp with time zone DEFAULT now() NOT NULL
);

COMMENT ON TABLE public.guess IS 'Settings whose value is still a guess, by column or subject, so that pages can mark them.';

COMMENT ON COLUMN public.guess.subject IS 'such as workshop.hour_cost_minor';

ALTER TABLE public.guess ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.guess_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.handover (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    number text NOT NULL,
    order_unit_id bigint NOT NULL,
    run_stop_id bigint,
    box_id bigint,
    colony_id bigint,
    site_id bigint,
    happened_at timestamp with time zone NOT NULL,
    recorded_at timestamp with time zone DEFAULT now() NOT NULL,
    received_by public.words NOT NULL,
    bees_in integer,
    bees_out integer,
    document_id bigint,
    care_key text,
    note public.prose DEFAULT ''::text NOT NULL,
    undone_at timestamp with time zone,
    undone_because public.words DEFAULT ''::text NOT NULL,
    mass_kg numeric(6,2),
    guarantee public.prose DEFAULT ''::text NOT NULL,
    guarantee_box_until date,
    guarantee_colony_until date,
    CONSTRAINT handover_bees_in CHECK (((bees_in >= 0) AND (bees_in <= 1000))),
    CONSTRAINT handover_bees_out CHECK (((bees_out >= 0) AND (bees_out <= 1000))),
    CONSTRAINT handover_mass CHECK (((mass_kg > (0)::numeric) AND (mass_kg < (500)::numeric))),
    CONSTRAINT handover_received_by CHECK ((length(TRIM(BOTH FROM received_by)) > 0))
);

COMMENT ON TABLE public.handover IS 'A unit given to its buyer, with the evidence.';

COMMENT ON COLUMN public.handover.bees_in IS 'bees in, in a minute';

COMMENT ON COLUMN public.handover.bees_out IS 'bees out, in a minute';

COMMENT ON COLUMN public.handover.document_id IS 'the sheet as printed';

COMMENT ON COLUMN public.handover.care_key IS 'unguessable key of the public care page';

COMMENT ON COLUMN public.handover.mass_kg IS 'of the whole hive as weighed, kg';

COMMENT ON COLUMN public.handover.guarantee IS 'its terms as printed on the sheet';

COMMENT ON COLUMN public.handover.guarantee_box_until IS 'last day';

COMMENT ON COLUMN public.handover.guarantee_colony_until IS 'last day';

ALTER TABLE public.handover ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.handover_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.history (
    id bigint NOT NULL,
    table_name text NOT NULL,
    row_id bigint NOT NULL,
    deed text NOT NULL,
    actor_id bigint,
    actor_name text,
    request_id text,
    at timestamp with time zone DEFAULT now() NOT NULL,
    was jsonb,
    became jsonb,
    CONSTRAINT history_deed CHECK ((deed = ANY (ARRAY['made'::text, 'changed'::text, 'removed'::text])))
);

COMMENT ON TABLE public.history IS 'Who changed what, when, from what to what, on every record.';

COMMENT ON COLUMN public.history.was IS 'the changed fields as they were';

COMMENT ON COLUMN public.history.became IS 'the changed fields as they are since';

ALTER TABLE public.history ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.history_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

ALTER TABLE public.host_tree ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.host_tree_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.host_tree_visit (
    id bigint NOT NULL,
    host_tree_id bigint NOT NULL,
    happened_at timestamp with time zone NOT NULL,
    recorded_at timestamp with time zone DEFAULT now() NOT NULL,
    seen public.prose NOT NULL,
    found text DEFAULT 'other'::text NOT NULL,
    CONSTRAINT host_tree_visit_found CHECK ((found = ANY (ARRAY['passing'::text, 'wax'::text, 'brood'::text, 'ready'::text, 'quiet'::text, 'blocked'::text, 'harm'::text, 'other'::text])))
);

COMMENT ON TABLE public.host_tree_visit IS 'What was seen at a visit to a host tree.';

COMMENT ON COLUMN public.host_tree_visit.found IS 'what was seen, in one word of a short list';

ALTER TABLE public.host_tree_visit ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.host_tree_visit_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.housing (
    id bigint NOT NULL,
    colony_id bigint NOT NULL,
    dwelling text NOT NULL,
    box_id bigint,
    host_tree_id bigint,
    description public.words DEFAULT ''::text NOT NULL,
    from_at timestamp with time zone NOT NULL,
    from_about public.words DEFAULT ''::text NOT NULL,
    to_at timestamp with time zone,
    recorded_at timestamp with time zone DEFAULT now() NOT NULL,
    CONSTRAINT housing_box CHECK (((dwelling = 'box'::text) = (box_id IS NOT NULL))),
    CONSTRAINT housing_dwelling CHECK ((dwelling = ANY (ARRAY['box'::text, 'log'::text, 'tree'::text, 'other'::text]))),
    CONSTRAINT housing_forward CHECK ((to_at >= from_at))
);

COMMENT ON TABLE public.housing IS 'Where a colony lives: housing is an event.';

ALTER TABLE public.housing ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.housing_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.idempotency (
    key text NOT NULL,
    actor_id bigint NOT NULL,
    route text NOT NULL,
    body_hash bytea NOT NULL,
    status integer,
    headers jsonb,
    body bytea,
    made_at timestamp with time zone DEFAULT now() NOT NULL,
    CONSTRAINT idempotency_key_length CHECK (((length(key) >= 1) AND (length(key) <= 200)))
);

COMMENT ON TABLE public.idempotency IS 'First answers to requests that carried an Idempotency-Key.';

CREATE TABLE public.invoice (
    id bigint NOT NULL,
    number text NOT NULL,
    kind text NOT NULL,
    adjusts_id bigint,
    order_id bigint NOT NULL,
    party_id bigint NOT NULL,
    invoice_on date NOT NULL,
    due_on date NOT NULL,
    issued_at timestamp with time zone NOT NULL,
    registered boolean NOT NULL,
    price_ex_tax_minor bigint NOT NULL,
    tax_minor bigint NOT NULL,
    price_minor bigint NOT NULL,
    frozen jsonb NOT NULL,
    document_id bigint NOT NULL,
    why public.words DEFAULT ''::text NOT NULL,
    keeps_price boolean DEFAULT true NOT NULL,
    supplied_on date,
    CONSTRAINT invoice_adjustment_why CHECK (((kind <> 'adjustment'::text) OR (length(TRIM(BOTH FROM why)) > 0))),
    CONSTRAINT invoice_adjusts CHECK (((kind = 'adjustment'::text) = (adjusts_id IS NOT NULL))),
    CONSTRAINT invoice_due CHECK ((due_on >= invoice_on)),
    CONSTRAINT invoice_keeps_price CHECK ((keeps_price OR (kind = 'adjustment'::text))),
    CONSTRAINT invoice_kind CHECK ((kind = ANY (ARRAY['deposit'::text, 'progress'::text, 'final'::text, 'adjustment'::text]))),
    CONSTRAINT invoice_sum CHECK ((price_minor = (price_ex_tax_minor + tax_minor))),
    CONSTRAINT invoice_unregistered_no_tax CHECK ((registered OR (tax_minor = 0)))
);

COMMENT ON TABLE public.invoice IS 'An issued invoice; it never changes.';

COMMENT ON COLUMN public.invoice.registered IS 'registered for tax on that day';

COMMENT ON COLUMN public.invoice.price_ex_tax_minor IS 'minor units';

COMMENT ON COLUMN public.invoice.tax_minor IS 'minor units';

COMMENT ON COLUMN public.invoice.price_minor IS 'with tax, minor units';

COMMENT ON COLUMN public.invoice.frozen IS 'all that the paper says, as issued';

COMMENT ON COLUMN public.invoice.why IS 'of an adjustment: what it is for';

COMMENT ON COLUMN public.invoice.keeps_price IS 'false on an adjustment: the buyer owes that much less; otherwise the pieces may be invoiced anew';

COMMENT ON COLUMN public.invoice.supplied_on IS 'day of supply where it is another than that of the invoice';

ALTER TABLE public.invoice ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.invoice_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.invoice_line (
    id bigint NOT NULL,
    invoice_id bigint NOT NULL,
    "position" integer NOT NULL,
    order_unit_id bigint,
    description public.words NOT NULL,
    quantity numeric(12,3) NOT NULL,
    unit_price_minor bigint NOT NULL,
    tax_code text NOT NULL,
    tax_pct numeric(6,3) NOT NULL,
    price_ex_tax_minor bigint NOT NULL,
    tax_minor bigint NOT NULL,
    price_minor bigint NOT NULL,
    deducts_id bigint,
    adjusts_line_id bigint,
    CONSTRAINT invoice_line_position CHECK (("position" >= 1)),
    CONSTRAINT invoice_line_sum CHECK ((price_minor = (price_ex_tax_minor + tax_minor)))
);

COMMENT ON TABLE public.invoice_line IS 'A line of an invoice; a unit is invoiced once.';

COMMENT ON COLUMN public.invoice_line.unit_price_minor IS 'each, ex tax, minor units';

COMMENT ON COLUMN public.invoice_line.tax_pct IS 'percent';

COMMENT ON COLUMN public.invoice_line.price_ex_tax_minor IS 'of the line, minor units';

COMMENT ON COLUMN public.invoice_line.tax_minor IS 'of the line, minor units';

COMMENT ON COLUMN public.invoice_line.price_minor IS 'of the line with tax, minor units';

COMMENT ON COLUMN public.invoice_line.deducts_id IS 'the deposit or progress invoice that this line takes off';

COMMENT ON COLUMN public.invoice_line.adjusts_line_id IS 'of an adjustment: the line it takes off';

ALTER TABLE public.invoice_line ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.invoice_line_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.item (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    code text NOT NULL,
    name public.words NOT NULL,
    kind text NOT NULL,
    counted boolean DEFAULT true NOT NULL,
    unit public.words DEFAULT 'each'::text NOT NULL,
    cost_minor bigint DEFAULT 0 NOT NULL,
    supplier_id bigint,
    lead_days integer,
    low_mark integer DEFAULT 0 NOT NULL,
    low boolean DEFAULT false NOT NULL,
    on_hand integer DEFAULT 0 NOT NULL,
    put_aside integer DEFAULT 0 NOT NULL,
    put_away_at timestamp with time zone,
    CONSTRAINT item_bulk_uncounted CHECK ((counted OR ((on_hand = 0) AND (put_aside = 0)))),
    CONSTRAINT item_cost CHECK ((cost_minor >= 0)),
    CONSTRAINT item_kind CHECK ((kind = ANY (ARRAY['fitting'::text, 'finish'::text, 'goods'::text]))),
    CONSTRAINT item_lead CHECK (((lead_days >= 0) AND (lead_days <= 1000))),
    CONSTRAINT item_low_mark CHECK ((low_mark >= 0)),
    CONSTRAINT item_within CHECK (((0 <= put_aside) AND (put_aside <= on_hand)))
);

COMMENT ON TABLE public.item IS 'Fittings, finishes and goods: counted, or bulk with a low mark only.';

COMMENT ON COLUMN public.item.code IS 'as models name it';

COMMENT ON COLUMN public.item.cost_minor IS 'each, minor units';

COMMENT ON COLUMN public.item.lead_days IS 'days; none: the supplier''s';

COMMENT ON COLUMN public.item.low IS 'for bulk: somebody saw that it runs low';

ALTER TABLE public.item ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.item_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.keeping (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    colony_id bigint,
    box_id bigint,
    party_id bigint NOT NULL,
    purpose text NOT NULL,
    agreed public.prose DEFAULT ''::text NOT NULL,
    price_minor bigint,
    came_at timestamp with time zone NOT NULL,
    back_on date,
    ended_at timestamp with time zone,
    ended_how text,
    ended_note public.words DEFAULT ''::text NOT NULL,
    recorded_at timestamp with time zone DEFAULT now() NOT NULL,
    CONSTRAINT keeping_end CHECK (((ended_at IS NULL) = (ended_how IS NULL))),
    CONSTRAINT keeping_ended_how CHECK ((ended_how = ANY (ARRAY['back'::text, 'kept'::text, 'lost'::text]))),
    CONSTRAINT keeping_forward CHECK ((ended_at >= came_at)),
    CONSTRAINT keeping_one_thing CHECK ((num_nonnulls(colony_id, box_id) = 1)),
    CONSTRAINT keeping_price CHECK ((price_minor >= 0)),
    CONSTRAINT keeping_purpose CHECK ((purpose = ANY (ARRAY['split'::text, 'repair'::text, 'minding'::text, 'other'::text])))
);

COMMENT ON TABLE public.keeping IS 'A hive or a box of somebody else in the workshop''s keeping: to be split, repaired or minded.';

COMMENT ON COLUMN public.keeping.colony_id IS 'the colony, with the box it lives in';

COMMENT ON COLUMN public.keeping.box_id IS 'a box without bees';

COMMENT ON COLUMN public.keeping.party_id IS 'whose it is';

COMMENT ON COLUMN public.keeping.agreed IS 'what was agreed, in words';

COMMENT ON COLUMN public.keeping.price_minor IS 'agreed, with tax, minor units; empty: none';

COMMENT ON COLUMN public.keeping.back_on IS 'to be back with its owner; empty: no day was agreed';

COMMENT ON COLUMN public.keeping.ended_how IS 'back: with its owner; kept: the workshop''s now, as agreed; lost: it died or broke here, and the owner knows';

COMMENT ON COLUMN public.keeping.ended_note IS 'who took it, or why';

ALTER TABLE public.keeping ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.keeping_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.limited_thing (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    name public.words NOT NULL,
    count integer DEFAULT 1 NOT NULL,
    notes public.words DEFAULT ''::text NOT NULL,
    put_away_at timestamp with time zone,
    CONSTRAINT limited_thing_count CHECK (((count >= 1) AND (count <= 1000))),
    CONSTRAINT limited_thing_name CHECK ((length(TRIM(BOTH FROM name)) > 0))
);

COMMENT ON TABLE public.limited_thing IS 'What work waits for beside hands, such as clamps or the paint rack; operations name it in their needs.';

COMMENT ON COLUMN public.limited_thing.count IS 'how many operations can have it at once';

COMMENT ON COLUMN public.limited_thing.put_away_at IS 'there is none since then';

ALTER TABLE public.limited_thing ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.limited_thing_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.line_move (
    id bigint NOT NULL,
    order_unit_id bigint NOT NULL,
    before_unit_id bigint,
    reason public.words NOT NULL,
    at timestamp with time zone DEFAULT now() NOT NULL,
    stands numeric NOT NULL,
    CONSTRAINT line_move_reason CHECK ((length(TRIM(BOTH FROM reason)) > 0))
);

COMMENT ON TABLE public.line_move IS 'A move in the line of those who wait, with its reason.';

COMMENT ON COLUMN public.line_move.order_unit_id IS 'the piece that moved';

COMMENT ON COLUMN public.line_move.before_unit_id IS 'the piece it was put before; none: behind all who stood in the line then';

COMMENT ON COLUMN public.line_move.stands IS 'where it stands since: seconds since 1970 of the deposit it stands as if it had paid, with parts of a second that keep places apart';

ALTER TABLE public.line_move ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.line_move_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.list_price (
    id bigint NOT NULL,
    subject text NOT NULL,
    from_on date NOT NULL,
    price_minor bigint NOT NULL,
    tax_code text DEFAULT 'standard'::text NOT NULL,
    reason public.words DEFAULT ''::text NOT NULL,
    recorded_at timestamp with time zone DEFAULT now() NOT NULL,
    CONSTRAINT list_price_amount CHECK ((price_minor >= 0)),
    CONSTRAINT list_price_subject CHECK ((subject ~ '^(model|option|item|colony|service|timber):[0-9a-z_-]+$'::text))
);

COMMENT ON TABLE public.list_price IS 'Dated list prices, ex tax; a changed price keeps a reason.';

COMMENT ON COLUMN public.list_price.subject IS 'such as model:3, option:7, colony:2';

COMMENT ON COLUMN public.list_price.price_minor IS 'each, ex tax, minor units';

ALTER TABLE public.list_price ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.list_price_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.log (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    number text NOT NULL,
    species_id bigint NOT NULL,
    small_end_mm numeric(8,1) NOT NULL,
    large_end_mm numeric(8,1) NOT NULL,
    length_mm numeric(8,1) NOT NULL,
    sweep_mm numeric(8,1) DEFAULT 0 NOT NULL,
    felled_on date,
    ends_sealed boolean DEFAULT false NOT NULL,
    metal_suspected boolean DEFAULT false NOT NULL,
    hollow_suspected boolean DEFAULT false NOT NULL,
    from_where public.words DEFAULT ''::text NOT NULL,
    supplier_id bigint,
    cost_minor bigint DEFAULT 0 NOT NULL,
    haulage_minor bigint DEFAULT 0 NOT NULL,
    sawn_at timestamp with time zone,
    sawn_min integer,
    notes public.prose DEFAULT ''::text NOT NULL,
    recorded_at timestamp with time zone DEFAULT now() NOT NULL,
    put_away_at timestamp with time zone,
    wish jsonb,
    expected jsonb,
    expected_m3 numeric(12,6),
    real_m3 numeric(12,6),
    sawing_minor bigint DEFAULT 0 NOT NULL,
    CONSTRAINT log_cost CHECK ((cost_minor >= 0)),
    CONSTRAINT log_ends CHECK ((large_end_mm >= small_end_mm)),
    CONSTRAINT log_expected_m3 CHECK ((expected_m3 >= (0)::numeric)),
    CONSTRAINT log_haulage CHECK ((haulage_minor >= 0)),
    CONSTRAINT log_length CHECK (((length_mm > (0)::numeric) AND (length_mm <= (20000)::numeric))),
    CONSTRAINT log_real_m3 CHECK ((real_m3 >= (0)::numeric)),
    CONSTRAINT log_sawing CHECK ((sawing_minor >= 0)),
    CONSTRAINT log_sawn_min CHECK ((sawn_min >= 0)),
    CONSTRAINT log_small CHECK ((small_end_mm > (0)::numeric)),
    CONSTRAINT log_sweep CHECK ((sweep_mm >= (0)::numeric))
);

COMMENT ON TABLE public.log IS 'A log, before and after it is sawn.';

COMMENT ON COLUMN public.log.small_end_mm IS 'under bark, mm';

COMMENT ON COLUMN public.log.large_end_mm IS 'under bark, mm';

COMMENT ON COLUMN public.log.length_mm IS 'mm';

COMMENT ON COLUMN public.log.sweep_mm IS 'mm';

COMMENT ON COLUMN public.log.cost_minor IS 'minor units';

COMMENT ON COLUMN public.log.haulage_minor IS 'minor units';

COMMENT ON COLUMN public.log.sawn_min IS 'minutes at the mill';

COMMENT ON COLUMN public.log.wish IS 'what is wanted of it: sizes, their values, shortest board, heart box; none: the usual';

COMMENT ON COLUMN public.log.expected IS 'what it was expected to give when it was sawn';

COMMENT ON COLUMN public.log.expected_m3 IS 'boards by the drawing, m3, green';

COMMENT ON COLUMN public.log.real_m3 IS 'boards that came, m3, green';

COMMENT ON COLUMN public.log.sawing_minor IS 'what the sawing cost, minor units';

CREATE TABLE public.log_board (
    id bigint NOT NULL,
    log_id bigint NOT NULL,
    pack_id bigint NOT NULL,
    board_size_id bigint NOT NULL,
    length_mm integer NOT NULL,
    grade text DEFAULT 'sound'::text NOT NULL,
    count integer NOT NULL,
    CONSTRAINT log_board_count CHECK ((count > 0)),
    CONSTRAINT log_board_grade CHECK ((grade = ANY (ARRAY['clear'::text, 'sound'::text, 'knotty'::text]))),
    CONSTRAINT log_board_length CHECK (((length_mm >= 1) AND (length_mm <= 20000)))
);

COMMENT ON TABLE public.log_board IS 'The boards that came of a log on its sawing day.';

COMMENT ON COLUMN public.log_board.board_size_id IS 'green size';

COMMENT ON COLUMN public.log_board.length_mm IS 'mm';

ALTER TABLE public.log_board ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.log_board_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

ALTER TABLE public.log ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.log_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.mail (
    id bigint NOT NULL,
    paper text NOT NULL,
    number text NOT NULL,
    to_address public.words NOT NULL,
    subject public.words NOT NULL,
    body public.prose NOT NULL,
    pdf bytea NOT NULL,
    message_id text NOT NULL,
    queued_at timestamp with time zone NOT NULL,
    next_try_at timestamp with time zone NOT NULL,
    tries integer DEFAULT 0 NOT NULL,
    sending_until timestamp with time zone,
    sent_at timestamp with time zone,
    gave_up_at timestamp with time zone,
    said public.prose DEFAULT ''::text NOT NULL,
    CONSTRAINT mail_number CHECK (((length(number) >= 1) AND (length(number) <= 60))),
    CONSTRAINT mail_one_end CHECK (((sent_at IS NULL) OR (gave_up_at IS NULL))),
    CONSTRAINT mail_paper CHECK (((length(paper) >= 1) AND (length(paper) <= 40))),
    CONSTRAINT mail_subject CHECK ((length(TRIM(BOTH FROM subject)) > 0)),
    CONSTRAINT mail_to CHECK ((length(TRIM(BOTH FROM to_address)) > 0)),
    CONSTRAINT mail_tries CHECK ((tries >= 0))
);

COMMENT ON TABLE public.mail IS 'Mail with a paper: queued, and sent at most once.';

COMMENT ON COLUMN public.mail.paper IS 'which paper goes with it, as kerfbook print names it';

COMMENT ON COLUMN public.mail.sending_until IS 'while it is on its way; when this is past without an end, it may have gone';

COMMENT ON COLUMN public.mail.said IS 'what the mail server said last';

ALTER TABLE public.mail ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.mail_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.milling_pace (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    model_id bigint NOT NULL,
    species_id bigint NOT NULL,
    boxes_a_month numeric(6,1) NOT NULL,
    CONSTRAINT milling_pace_boxes CHECK (((boxes_a_month > (0)::numeric) AND (boxes_a_month <= (1000)::numeric)))
);

COMMENT ON TABLE public.milling_pace IS 'How many boxes of a model in a timber the maker expects to sell; stands in place of the pace of past orders of that timber.';

COMMENT ON COLUMN public.milling_pace.boxes_a_month IS 'boxes a month';

ALTER TABLE public.milling_pace ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.milling_pace_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.model_revision (
    id bigint NOT NULL,
    model_id bigint NOT NULL,
    revision integer NOT NULL,
    body jsonb NOT NULL,
    fit_id bigint,
    serial_section public.words DEFAULT ''::text NOT NULL,
    reason public.words DEFAULT ''::text NOT NULL,
    made_at timestamp with time zone DEFAULT now() NOT NULL,
    CONSTRAINT model_revision_number CHECK ((revision >= 1))
);

COMMENT ON TABLE public.model_revision IS 'One immutable revision of a model, as calculations take it.';

COMMENT ON COLUMN public.model_revision.body IS 'the model of the calculation contract';

COMMENT ON COLUMN public.model_revision.serial_section IS 'the section that bears the serial; empty: the one with the entrance';

ALTER TABLE public.model_revision ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.model_revision_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.movement (
    id bigint NOT NULL,
    colony_id bigint NOT NULL,
    from_place public.words NOT NULL,
    to_place public.words NOT NULL,
    from_site_id bigint,
    to_site_id bigint,
    to_party_id bigint,
    permit_id bigint,
    happened_at timestamp with time zone NOT NULL,
    recorded_at timestamp with time zone DEFAULT now() NOT NULL,
    note public.words DEFAULT ''::text NOT NULL,
    permit_number public.words DEFAULT ''::text NOT NULL
);

COMMENT ON TABLE public.movement IS 'Every move of bees from place to place: from, to, when, how many, permit.';

COMMENT ON COLUMN public.movement.permit_number IS 'of the permit, health certificate or notice, where one is needed; may be filled in once, later';

ALTER TABLE public.movement ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.movement_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.order_line (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    order_id bigint NOT NULL,
    "position" integer NOT NULL,
    quote_line_id bigint,
    kind text NOT NULL,
    description public.words NOT NULL,
    quantity numeric(12,3) NOT NULL,
    unit_price_minor bigint NOT NULL,
    tax_code text DEFAULT 'standard'::text NOT NULL,
    tax_pct numeric(6,3) DEFAULT 0 NOT NULL,
    price_ex_tax_minor bigint NOT NULL,
    tax_minor bigint NOT NULL,
    price_minor bigint NOT NULL,
    cost_minor bigint DEFAULT 0 NOT NULL,
    model_revision_id bigint,
    timber_species_id bigint,
    bee_species_id bigint,
    item_id bigint,
    with_colony boolean DEFAULT false NOT NULL,
    options jsonb DEFAULT '[]'::jsonb NOT NULL,
    needs jsonb DEFAULT '{}'::jsonb NOT NULL,
    service_id bigint,
    CONSTRAINT order_line_kind CHECK ((kind = ANY (ARRAY['box'::text, 'section'::text, 'part'::text, 'goods'::text, 'colony'::text, 'service'::text, 'timber'::text, 'text'::text]))),
    CONSTRAINT order_line_position CHECK (("position" >= 1)),
    CONSTRAINT order_line_quantity CHECK (((quantity > (0)::numeric) AND (quantity <= (100000)::numeric))),
    CONSTRAINT order_line_sum CHECK ((price_minor = (price_ex_tax_minor + tax_minor))),
    CONSTRAINT order_line_tax_pct CHECK (((tax_pct >= (0)::numeric) AND (tax_pct <= (100)::numeric))),
    CONSTRAINT order_line_unit_price CHECK ((unit_price_minor >= 0))
);

COMMENT ON TABLE public.order_line IS 'A line of an order; a line of N has N units.';

COMMENT ON COLUMN public.order_line.unit_price_minor IS 'each, ex tax, minor units';

COMMENT ON COLUMN public.order_line.tax_pct IS 'percent';

COMMENT ON COLUMN public.order_line.price_ex_tax_minor IS 'of the line, minor units';

COMMENT ON COLUMN public.order_line.tax_minor IS 'of the line, minor units';

COMMENT ON COLUMN public.order_line.price_minor IS 'of the line with tax, minor units';

COMMENT ON COLUMN public.order_line.cost_minor IS 'as quoted, minor units';

COMMENT ON COLUMN public.order_line.options IS 'ids of the options chosen';

COMMENT ON COLUMN public.order_line.needs IS 'parts, board metres, fittings, minutes and costs as worked out';

ALTER TABLE public.order_line ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.order_line_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.order_unit (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    order_line_id bigint NOT NULL,
    n integer NOT NULL,
    wants_box boolean DEFAULT false NOT NULL,
    wants_colony boolean DEFAULT false NOT NULL,
    own_box boolean DEFAULT false NOT NULL,
    promised_box_on date,
    promised_colony_on date,
    site_id bigint,
    handed_over_at timestamp with time zone,
    returned_at timestamp with time zone,
    cancelled_at timestamp with time zone,
    cancelled_because public.words DEFAULT ''::text NOT NULL,
    CONSTRAINT order_unit_n CHECK ((n >= 1)),
    CONSTRAINT order_unit_one_end CHECK (((cancelled_at IS NULL) OR (handed_over_at IS NULL))),
    CONSTRAINT order_unit_returned_after CHECK (((returned_at IS NULL) OR (handed_over_at IS NOT NULL)))
);

COMMENT ON TABLE public.order_unit IS 'One piece of an order line: it holds a box, a colony, both or neither, and goes its own way.';

COMMENT ON COLUMN public.order_unit.own_box IS 'the colony goes into a box that the buyer has';

COMMENT ON COLUMN public.order_unit.site_id IS 'where it will stand, when not the order''s site';

ALTER TABLE public.order_unit ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.order_unit_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.pack (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    number text NOT NULL,
    species_id bigint NOT NULL,
    board_size_id bigint NOT NULL,
    log_id bigint,
    place public.words DEFAULT ''::text NOT NULL,
    climate_id bigint,
    stacked_on date NOT NULL,
    start_mc_pct numeric(5,1),
    target_mc_pct numeric(5,1) DEFAULT 12 NOT NULL,
    dresses_to_id bigint,
    ready_on date,
    ready_on_p80 date,
    never_dry boolean DEFAULT false NOT NULL,
    cost_minor bigint DEFAULT 0 NOT NULL,
    finished_at timestamp with time zone,
    notes public.prose DEFAULT ''::text NOT NULL,
    recorded_at timestamp with time zone DEFAULT now() NOT NULL,
    CONSTRAINT pack_cost CHECK ((cost_minor >= 0)),
    CONSTRAINT pack_p80_later CHECK ((ready_on_p80 >= ready_on)),
    CONSTRAINT pack_start_mc CHECK (((start_mc_pct >= (1)::numeric) AND (start_mc_pct <= (300)::numeric))),
    CONSTRAINT pack_target_mc CHECK (((target_mc_pct >= (3)::numeric) AND (target_mc_pct <= (30)::numeric)))
);

COMMENT ON TABLE public.pack IS 'A stickered stack of boards, drying.';

COMMENT ON COLUMN public.pack.board_size_id IS 'green size';

COMMENT ON COLUMN public.pack.start_mc_pct IS 'percent of oven-dry mass';

COMMENT ON COLUMN public.pack.target_mc_pct IS 'percent of oven-dry mass';

COMMENT ON COLUMN public.pack.dresses_to_id IS 'the board size it is meant to be dressed to';

COMMENT ON COLUMN public.pack.ready_on IS 'dry with even odds, as last worked out';

COMMENT ON COLUMN public.pack.ready_on_p80 IS 'dry with 4-in-5 odds, as last worked out';

COMMENT ON COLUMN public.pack.never_dry IS 'this climate cannot reach the target';

COMMENT ON COLUMN public.pack.cost_minor IS 'log, haulage and sawing, minor units';

COMMENT ON COLUMN public.pack.finished_at IS 'all of it dressed or gone';

CREATE TABLE public.pack_content (
    id bigint NOT NULL,
    pack_id bigint NOT NULL,
    length_mm integer NOT NULL,
    grade text DEFAULT 'sound'::text NOT NULL,
    count integer NOT NULL,
    CONSTRAINT pack_content_count CHECK ((count >= 0)),
    CONSTRAINT pack_content_grade CHECK ((grade = ANY (ARRAY['clear'::text, 'sound'::text, 'knotty'::text]))),
    CONSTRAINT pack_content_length CHECK (((length_mm >= 1) AND (length_mm <= 20000)))
);

COMMENT ON TABLE public.pack_content IS 'What lies in a pack, by length and grade.';

COMMENT ON COLUMN public.pack_content.length_mm IS 'mm';

ALTER TABLE public.pack_content ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.pack_content_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

ALTER TABLE public.pack ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.pack_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.pack_place (
    id bigint NOT NULL,
    pack_id bigint NOT NULL,
    from_on date NOT NULL,
    climate_id bigint NOT NULL,
    place public.words DEFAULT ''::text NOT NULL,
    recorded_at timestamp with time zone DEFAULT now() NOT NULL
);

COMMENT ON TABLE public.pack_place IS 'Where a pack was moved to, and its air from that day on; before the first, the pack''s own climate.';

COMMENT ON COLUMN public.pack_place.from_on IS 'the day of the move';

ALTER TABLE public.pack_place ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.pack_place_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.pack_reading (
    id bigint NOT NULL,
    pack_id bigint NOT NULL,
    read_on date NOT NULL,
    board public.words DEFAULT ''::text NOT NULL,
    meter_pct numeric(5,1) NOT NULL,
    mc_pct numeric(5,1) NOT NULL,
    ready_on date,
    ready_on_p80 date,
    never_dry boolean DEFAULT false NOT NULL,
    recorded_at timestamp with time zone DEFAULT now() NOT NULL,
    correction text DEFAULT 'none'::text NOT NULL,
    correction_source public.words DEFAULT ''::text NOT NULL,
    CONSTRAINT pack_reading_correction CHECK ((correction = ANY (ARRAY['none'::text, 'table'::text, 'hand'::text]))),
    CONSTRAINT pack_reading_mc CHECK (((mc_pct >= (1)::numeric) AND (mc_pct <= (300)::numeric))),
    CONSTRAINT pack_reading_meter CHECK (((meter_pct >= (1)::numeric) AND (meter_pct <= (300)::numeric)))
);

COMMENT ON TABLE public.pack_reading IS 'A moisture reading of a sample board, and the dates that followed from it.';

COMMENT ON COLUMN public.pack_reading.board IS 'which sample board';

COMMENT ON COLUMN public.pack_reading.meter_pct IS 'as the meter showed, percent';

COMMENT ON COLUMN public.pack_reading.mc_pct IS 'corrected for the species, percent of oven-dry mass';

COMMENT ON COLUMN public.pack_reading.correction IS 'none: as the meter shows; table: by the correction of the timber; hand: typed';

COMMENT ON COLUMN public.pack_reading.correction_source IS 'where that correction was from, as it stood then';

ALTER TABLE public.pack_reading ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.pack_reading_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.party (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    made_at timestamp with time zone DEFAULT now() NOT NULL,
    kind text DEFAULT 'person'::text NOT NULL,
    name public.words DEFAULT ''::text NOT NULL,
    town public.words DEFAULT ''::text NOT NULL,
    business_number public.words DEFAULT ''::text NOT NULL,
    buyer_class_id bigint,
    found_by public.words DEFAULT ''::text NOT NULL,
    notes public.prose DEFAULT ''::text NOT NULL,
    joined_into_id bigint,
    nameless_at timestamp with time zone,
    put_away_at timestamp with time zone,
    find tsvector GENERATED ALWAYS AS (to_tsvector('simple'::regconfig, (((name)::text || ' '::text) || (town)::text))) STORED,
    due_days integer,
    CONSTRAINT party_due_days CHECK (((due_days >= 0) AND (due_days <= 365))),
    CONSTRAINT party_kind CHECK ((kind = ANY (ARRAY['person'::text, 'organisation'::text]))),
    CONSTRAINT party_not_itself CHECK ((joined_into_id <> id))
);

COMMENT ON TABLE public.party IS 'A person or an organisation.';

COMMENT ON COLUMN public.party.name IS 'may be empty while only a number is known';

COMMENT ON COLUMN public.party.found_by IS 'how they found the workshop';

COMMENT ON COLUMN public.party.due_days IS 'days to pay that were agreed with it; none: the usual ones';

ALTER TABLE public.party ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.party_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.payment (
    id bigint NOT NULL,
    number text NOT NULL,
    order_id bigint NOT NULL,
    kind text NOT NULL,
    method text NOT NULL,
    amount_minor bigint NOT NULL,
    in_kind public.words DEFAULT ''::text NOT NULL,
    happened_at timestamp with time zone NOT NULL,
    recorded_at timestamp with time zone DEFAULT now() NOT NULL,
    document_id bigint,
    note public.words DEFAULT ''::text NOT NULL,
    other_order_id bigint,
    CONSTRAINT payment_amount CHECK ((amount_minor > 0)),
    CONSTRAINT payment_credit CHECK (((method = 'credit'::text) = (other_order_id IS NOT NULL))),
    CONSTRAINT payment_credit_elsewhere CHECK ((other_order_id <> order_id)),
    CONSTRAINT payment_in_kind CHECK (((method <> 'in kind'::text) OR (length(TRIM(BOTH FROM in_kind)) > 0))),
    CONSTRAINT payment_kind CHECK ((kind = ANY (ARRAY['deposit'::text, 'payment'::text, 'refund'::text]))),
    CONSTRAINT payment_method CHECK ((method = ANY (ARRAY['cash'::text, 'transfer'::text, 'card'::text, 'cheque'::text, 'in kind'::text, 'credit'::text])))
);

COMMENT ON TABLE public.payment IS 'Deposits, payments and refunds, as they happened.';

COMMENT ON COLUMN public.payment.amount_minor IS 'with tax, minor units; a refund goes out';

COMMENT ON COLUMN public.payment.in_kind IS 'what was given instead of money';

COMMENT ON COLUMN public.payment.document_id IS 'the receipt';

COMMENT ON COLUMN public.payment.other_order_id IS 'of a credit: the order of the same buyer that it comes from or goes to';

ALTER TABLE public.payment ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.payment_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.permit (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    number public.words NOT NULL,
    authority public.words NOT NULL,
    what public.words DEFAULT ''::text NOT NULL,
    ends_on date,
    kind text DEFAULT 'other'::text NOT NULL,
    from_on date,
    warn_days integer DEFAULT 30 NOT NULL,
    notes public.prose DEFAULT ''::text NOT NULL,
    put_away_at timestamp with time zone,
    CONSTRAINT permit_forward CHECK ((ends_on >= from_on)),
    CONSTRAINT permit_kind CHECK ((kind = ANY (ARRAY['take'::text, 'keep'::text, 'move'::text, 'sell'::text, 'land'::text, 'other'::text]))),
    CONSTRAINT permit_number CHECK ((length(TRIM(BOTH FROM number)) > 0)),
    CONSTRAINT permit_warn_days CHECK (((warn_days >= 0) AND (warn_days <= 365)))
);

COMMENT ON TABLE public.permit IS 'Permits: number, authority, what they cover, from and to.';

COMMENT ON COLUMN public.permit.what IS 'what it covers, in words: kinds of bees, places, how many';

COMMENT ON COLUMN public.permit.ends_on IS 'last day on which it holds; none: it has no end';

COMMENT ON COLUMN public.permit.kind IS 'what it allows: taking bees, keeping, moving, selling them, or entering land';

COMMENT ON COLUMN public.permit.from_on IS 'first day on which it holds; none: not noted';

COMMENT ON COLUMN public.permit.warn_days IS 'days before the end from which the Day sheet says so';

ALTER TABLE public.permit ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.permit_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.promise_change (
    id bigint NOT NULL,
    order_unit_id bigint NOT NULL,
    part text NOT NULL,
    was_on date,
    became_on date,
    reason public.words DEFAULT ''::text NOT NULL,
    at timestamp with time zone DEFAULT now() NOT NULL,
    CONSTRAINT promise_change_part CHECK ((part = ANY (ARRAY['box'::text, 'colony'::text])))
);

COMMENT ON TABLE public.promise_change IS 'A change of promised dates, with the reason told to the buyer.';

ALTER TABLE public.promise_change ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.promise_change_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.purchase (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    supplier_id bigint,
    ordered_on date NOT NULL,
    expected_on date,
    received_at timestamp with time zone,
    their_number public.words DEFAULT ''::text NOT NULL,
    notes public.prose DEFAULT ''::text NOT NULL,
    paid_on date
);

COMMENT ON TABLE public.purchase IS 'Purchases of timber, fittings and finish.';

COMMENT ON COLUMN public.purchase.paid_on IS 'none: not paid yet';

ALTER TABLE public.purchase ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.purchase_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.purchase_line (
    id bigint NOT NULL,
    purchase_id bigint NOT NULL,
    item_id bigint,
    lot_id bigint,
    description public.words DEFAULT ''::text NOT NULL,
    quantity integer NOT NULL,
    cost_ex_tax_minor bigint NOT NULL,
    tax_minor bigint DEFAULT 0 NOT NULL,
    tax_code text DEFAULT 'standard'::text NOT NULL,
    brings text DEFAULT ''::text NOT NULL,
    species_id bigint,
    width_mm numeric(8,1),
    thickness_mm numeric(8,1),
    length_mm integer,
    grade text,
    small_end_mm numeric(8,1),
    large_end_mm numeric(8,1),
    place public.words DEFAULT ''::text NOT NULL,
    received integer DEFAULT 0 NOT NULL,
    CONSTRAINT purchase_line_brings CHECK ((brings = ANY (ARRAY[''::text, 'boards'::text, 'log'::text, 'pack'::text]))),
    CONSTRAINT purchase_line_cost CHECK ((cost_ex_tax_minor >= 0)),
    CONSTRAINT purchase_line_grade CHECK ((grade = ANY (ARRAY['clear'::text, 'sound'::text, 'knotty'::text]))),
    CONSTRAINT purchase_line_large_end CHECK ((large_end_mm >= small_end_mm)),
    CONSTRAINT purchase_line_length CHECK (((length_mm >= 1) AND (length_mm <= 20000))),
    CONSTRAINT purchase_line_quantity CHECK ((quantity > 0)),
    CONSTRAINT purchase_line_received CHECK (((received >= 0) AND (received <= quantity))),
    CONSTRAINT purchase_line_small_end CHECK ((small_end_mm > (0)::numeric)),
    CONSTRAINT purchase_line_tax CHECK ((tax_minor >= 0)),
    CONSTRAINT purchase_line_thickness CHECK ((thickness_mm > (0)::numeric)),
    CONSTRAINT purchase_line_timber CHECK ((((brings = ''::text) = (species_id IS NULL)) AND ((brings = ''::text) OR (length_mm IS NOT NULL)))),
    CONSTRAINT purchase_line_width CHECK ((width_mm > (0)::numeric))
);

COMMENT ON TABLE public.purchase_line IS 'A line of a purchase.';

COMMENT ON COLUMN public.purchase_line.cost_ex_tax_minor IS 'of the line, minor units';

COMMENT ON COLUMN public.purchase_line.tax_minor IS 'of the line, minor units';

COMMENT ON COLUMN public.purchase_line.brings IS 'what stands in the book when it comes in: boards on the rack, a log, a pack';

COMMENT ON COLUMN public.purchase_line.width_mm IS 'mm';

COMMENT ON COLUMN public.purchase_line.thickness_mm IS 'mm';

COMMENT ON COLUMN public.purchase_line.length_mm IS 'mm';

COMMENT ON COLUMN public.purchase_line.small_end_mm IS 'of a log, mm';

COMMENT ON COLUMN public.purchase_line.large_end_mm IS 'of a log, mm';

COMMENT ON COLUMN public.purchase_line.received IS 'pieces that came in';

ALTER TABLE public.purchase_line ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.purchase_line_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.quote (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    made_at timestamp with time zone DEFAULT now() NOT NULL,
    number text,
    revision integer DEFAULT 1 NOT NULL,
    revises_id bigint,
    party_id bigint NOT NULL,
    site_id bigint,
    enquiry_id bigint,
    varies_order_id bigint,
    intro public.prose DEFAULT ''::text NOT NULL,
    valid_until date,
    date_at_acceptance boolean DEFAULT false NOT NULL,
    deposit_minor bigint DEFAULT 0 NOT NULL,
    issued_at timestamp with time zone,
    frozen jsonb,
    document_id bigint,
    thrown_away_at timestamp with time zone,
    CONSTRAINT quote_deposit CHECK ((deposit_minor >= 0)),
    CONSTRAINT quote_draft_thrown CHECK (((thrown_away_at IS NULL) OR (issued_at IS NULL))),
    CONSTRAINT quote_issued_whole CHECK ((((issued_at IS NULL) AND (frozen IS NULL) AND (document_id IS NULL)) OR ((issued_at IS NOT NULL) AND (number IS NOT NULL) AND (valid_until IS NOT NULL) AND (frozen IS NOT NULL) AND (document_id IS NOT NULL)))),
    CONSTRAINT quote_revision CHECK ((revision >= 1))
);

COMMENT ON TABLE public.quote IS 'A quote: a draft until issued; what is issued never changes.';

COMMENT ON COLUMN public.quote.number IS 'given when first issued; revisions share it';

COMMENT ON COLUMN public.quote.varies_order_id IS 'the order that this quote would vary';

COMMENT ON COLUMN public.quote.date_at_acceptance IS 'holds nothing: the date is confirmed when accepted';

COMMENT ON COLUMN public.quote.deposit_minor IS 'with tax, minor units';

COMMENT ON COLUMN public.quote.frozen IS 'all that the paper says, as issued: names, model revision, options, parts, minutes, costs, tax, terms';

CREATE TABLE public.quote_alternative (
    id bigint NOT NULL,
    quote_id bigint NOT NULL,
    letter character(1) NOT NULL,
    title public.words DEFAULT ''::text NOT NULL,
    wish jsonb DEFAULT '{}'::jsonb NOT NULL,
    box_on date,
    colony_on date,
    price_ex_tax_minor bigint DEFAULT 0 NOT NULL,
    tax_minor bigint DEFAULT 0 NOT NULL,
    price_minor bigint DEFAULT 0 NOT NULL,
    cost_minor bigint DEFAULT 0 NOT NULL,
    CONSTRAINT quote_alternative_letter CHECK (((letter >= 'A'::bpchar) AND (letter <= 'Z'::bpchar))),
    CONSTRAINT quote_alternative_sum CHECK ((price_minor = (price_ex_tax_minor + tax_minor)))
);

COMMENT ON TABLE public.quote_alternative IS 'One way to have it; a quote offers one or more.';

COMMENT ON COLUMN public.quote_alternative.wish IS 'the question that the answer was worked out from';

COMMENT ON COLUMN public.quote_alternative.box_on IS 'promised day for the boxes';

COMMENT ON COLUMN public.quote_alternative.colony_on IS 'promised day for the colonies';

COMMENT ON COLUMN public.quote_alternative.price_ex_tax_minor IS 'minor units';

COMMENT ON COLUMN public.quote_alternative.tax_minor IS 'minor units';

COMMENT ON COLUMN public.quote_alternative.price_minor IS 'with tax, minor units';

COMMENT ON COLUMN public.quote_alternative.cost_minor IS 'what it costs today, minor units; never printed for a buyer';

ALTER TABLE public.quote_alternative ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.quote_alternative_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.quote_event (
    id bigint NOT NULL,
    quote_id bigint NOT NULL,
    kind text NOT NULL,
    alternative_id bigint,
    happened_at timestamp with time zone NOT NULL,
    recorded_at timestamp with time zone DEFAULT now() NOT NULL,
    note public.words DEFAULT ''::text NOT NULL,
    accepted_lines jsonb,
    CONSTRAINT quote_event_alternative CHECK (((kind = 'accepted'::text) = (alternative_id IS NOT NULL))),
    CONSTRAINT quote_event_kind CHECK ((kind = ANY (ARRAY['accepted'::text, 'declined'::text, 'withdrawn'::text, 'revised'::text])))
);

COMMENT ON TABLE public.quote_event IS 'What became of an issued quote: written once, beside it. Lapsed is computed from the date.';

COMMENT ON COLUMN public.quote_event.accepted_lines IS 'ids and quantities, when only part was accepted';

ALTER TABLE public.quote_event ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.quote_event_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

ALTER TABLE public.quote ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.quote_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.quote_line (
    id bigint NOT NULL,
    alternative_id bigint NOT NULL,
    "position" integer NOT NULL,
    kind text NOT NULL,
    description public.words NOT NULL,
    quantity numeric(12,3) DEFAULT 1 NOT NULL,
    unit_price_minor bigint DEFAULT 0 NOT NULL,
    tax_code text DEFAULT 'standard'::text NOT NULL,
    tax_pct numeric(6,3) DEFAULT 0 NOT NULL,
    price_ex_tax_minor bigint DEFAULT 0 NOT NULL,
    tax_minor bigint DEFAULT 0 NOT NULL,
    price_minor bigint DEFAULT 0 NOT NULL,
    cost_minor bigint DEFAULT 0 NOT NULL,
    model_revision_id bigint,
    timber_species_id bigint,
    bee_species_id bigint,
    item_id bigint,
    with_colony boolean DEFAULT false NOT NULL,
    options jsonb DEFAULT '[]'::jsonb NOT NULL,
    box_on date,
    colony_on date,
    needs jsonb DEFAULT '{}'::jsonb NOT NULL,
    service_id bigint,
    added boolean DEFAULT false NOT NULL,
    CONSTRAINT quote_line_added CHECK (((NOT added) OR (kind = ANY (ARRAY['service'::text, 'text'::text])))),
    CONSTRAINT quote_line_kind CHECK ((kind = ANY (ARRAY['box'::text, 'section'::text, 'part'::text, 'goods'::text, 'colony'::text, 'service'::text, 'timber'::text, 'text'::text]))),
    CONSTRAINT quote_line_position CHECK (("position" >= 1)),
    CONSTRAINT quote_line_quantity CHECK (((quantity > (0)::numeric) AND (quantity <= (100000)::numeric))),
    CONSTRAINT quote_line_sum CHECK ((price_minor = (price_ex_tax_minor + tax_minor))),
    CONSTRAINT quote_line_tax_pct CHECK (((tax_pct >= (0)::numeric) AND (tax_pct <= (100)::numeric))),
    CONSTRAINT quote_line_unit_price CHECK ((unit_price_minor >= 0))
);

COMMENT ON TABLE public.quote_line IS 'A line of an alternative.';

COMMENT ON COLUMN public.quote_line.unit_price_minor IS 'each, ex tax, minor units';

COMMENT ON COLUMN public.quote_line.tax_pct IS 'percent';

COMMENT ON COLUMN public.quote_line.price_ex_tax_minor IS 'of the line, minor units';

COMMENT ON COLUMN public.quote_line.tax_minor IS 'of the line, minor units';

COMMENT ON COLUMN public.quote_line.price_minor IS 'of the line with tax, minor units';

COMMENT ON COLUMN public.quote_line.cost_minor IS 'of the line, minor units';

COMMENT ON COLUMN public.quote_line.model_revision_id IS 'for box, section and part';

COMMENT ON COLUMN public.quote_line.with_colony IS 'the box is sold with a colony living in it';

COMMENT ON COLUMN public.quote_line.options IS 'ids of the options chosen';

COMMENT ON COLUMN public.quote_line.needs IS 'parts, board metres, fittings, minutes and costs as worked out';

COMMENT ON COLUMN public.quote_line.service_id IS 'the service that a line of kind service was made from; a course''s seats are taken when the quote is accepted';

COMMENT ON COLUMN public.quote_line.added IS 'put on the draft by hand; only such a line can be taken off';

ALTER TABLE public.quote_line ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.quote_line_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.rain_month (
    id bigint NOT NULL,
    month integer NOT NULL,
    rain_days numeric(3,1) NOT NULL,
    CONSTRAINT rain_month_days CHECK (((rain_days >= (0)::numeric) AND (rain_days <= (30)::numeric))),
    CONSTRAINT rain_month_month CHECK (((month >= 1) AND (month <= 12)))
);

COMMENT ON TABLE public.rain_month IS 'How wet the months are where the workshop stands; no rows: a guess holds.';

COMMENT ON COLUMN public.rain_month.rain_days IS 'mean days with rain in the month, of the weather office''s table';

ALTER TABLE public.rain_month ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.rain_month_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.ring_call (
    id bigint NOT NULL,
    away_id bigint NOT NULL,
    subject text NOT NULL,
    told_at timestamp with time zone DEFAULT now() NOT NULL,
    CONSTRAINT ring_call_subject CHECK (((length(subject) >= 1) AND (length(subject) <= 60)))
);

COMMENT ON TABLE public.ring_call IS 'Somebody who was told of days away.';

COMMENT ON COLUMN public.ring_call.subject IS 'order, run, visit or purchase with its id, such as order:12';

ALTER TABLE public.ring_call ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.ring_call_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.run (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    number text NOT NULL,
    run_on date NOT NULL,
    kind text DEFAULT 'delivery'::text NOT NULL,
    driver public.words DEFAULT ''::text NOT NULL,
    km numeric(8,1),
    forecast_c numeric(4,1),
    done_at timestamp with time zone,
    put_off_because public.words DEFAULT ''::text NOT NULL,
    cancelled_at timestamp with time zone,
    notes public.prose DEFAULT ''::text NOT NULL,
    loads text DEFAULT 'dawn'::text NOT NULL,
    CONSTRAINT run_kind CHECK ((kind = ANY (ARRAY['delivery'::text, 'collection'::text, 'visits'::text]))),
    CONSTRAINT run_km CHECK ((km >= (0)::numeric)),
    CONSTRAINT run_loads CHECK ((loads = ANY (ARRAY['dawn'::text, 'dusk'::text])))
);

COMMENT ON TABLE public.run IS 'A day''s deliveries and pick-ups.';

COMMENT ON COLUMN public.run.km IS 'planned, km';

COMMENT ON COLUMN public.run.forecast_c IS 'typed forecast of the day''s heat, degrees Celsius';

COMMENT ON COLUMN public.run.loads IS 'at dawn: entrances are closed the evening before; at dusk: the same evening';

ALTER TABLE public.run ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.run_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.run_stop (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    run_id bigint NOT NULL,
    "position" integer NOT NULL,
    order_unit_id bigint,
    colony_id bigint,
    host_tree_id bigint,
    site_id bigint,
    what public.words DEFAULT ''::text NOT NULL,
    mass_kg numeric(6,1),
    closed_at timestamp with time zone,
    opened_at timestamp with time zone,
    done_at timestamp with time zone,
    told_at timestamp with time zone,
    seen_open_at timestamp with time zone,
    permit_id bigint,
    kind text DEFAULT 'call'::text NOT NULL,
    closed_by_id bigint,
    CONSTRAINT run_stop_kind CHECK ((kind = ANY (ARRAY['call'::text, 'close'::text]))),
    CONSTRAINT run_stop_mass CHECK ((mass_kg >= (0)::numeric)),
    CONSTRAINT run_stop_opened_after CHECK ((opened_at >= closed_at)),
    CONSTRAINT run_stop_position CHECK (("position" >= 1))
);

COMMENT ON TABLE public.run_stop IS 'A stop of a run.';

COMMENT ON COLUMN public.run_stop.mass_kg IS 'load for this stop, kg';

COMMENT ON COLUMN public.run_stop.closed_at IS 'entrance closed';

COMMENT ON COLUMN public.run_stop.opened_at IS 'entrance opened';

COMMENT ON COLUMN public.run_stop.told_at IS 'the buyer knows of the new day; empty again when the run is put off again';

COMMENT ON COLUMN public.run_stop.seen_open_at IS 'asked the morning after: the entrance is open';

COMMENT ON COLUMN public.run_stop.permit_id IS 'the permit under which its bees travel or are taken';

COMMENT ON COLUMN public.run_stop.kind IS 'call: somebody or a tree is called on; close: entrances are closed after dusk where the hives stand';

COMMENT ON COLUMN public.run_stop.closed_by_id IS 'the stop at which the entrance of this stop''s hive is closed';

ALTER TABLE public.run_stop ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.run_stop_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.sale_order (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    number text NOT NULL,
    party_id bigint NOT NULL,
    site_id bigint,
    quote_id bigint,
    happened_at timestamp with time zone NOT NULL,
    recorded_at timestamp with time zone DEFAULT now() NOT NULL,
    their_number public.words DEFAULT ''::text NOT NULL,
    deposit_minor bigint DEFAULT 0 NOT NULL,
    typed_in boolean DEFAULT false NOT NULL,
    deposit_end text,
    deposit_returned_minor bigint,
    notes public.prose DEFAULT ''::text NOT NULL,
    CONSTRAINT sale_order_deposit CHECK ((deposit_minor >= 0)),
    CONSTRAINT sale_order_deposit_end CHECK ((deposit_end = ANY (ARRAY['returned'::text, 'kept'::text, 'part returned'::text]))),
    CONSTRAINT sale_order_deposit_returned CHECK ((deposit_returned_minor >= 0))
);

COMMENT ON TABLE public.sale_order IS 'An order. Its state is computed from its units, never stored.';

COMMENT ON COLUMN public.sale_order.their_number IS 'an organisation''s own order number';

COMMENT ON COLUMN public.sale_order.deposit_minor IS 'asked for, with tax, minor units';

COMMENT ON COLUMN public.sale_order.typed_in IS 'an old order taken over from before the book';

COMMENT ON COLUMN public.sale_order.deposit_end IS 'what was decided on cancelling';

COMMENT ON COLUMN public.sale_order.deposit_returned_minor IS 'minor units';

ALTER TABLE public.sale_order ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.sale_order_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.schema_migration (
    version bigint NOT NULL,
    name text NOT NULL,
    applied_at timestamp with time zone DEFAULT now() NOT NULL,
    checksum text NOT NULL
);

COMMENT ON TABLE public.schema_migration IS 'The numbered SQL files that made this schema, as they were when they ran.';

COMMENT ON COLUMN public.schema_migration.checksum IS 'SHA-256 of the up file, hexadecimal.';

CREATE TABLE public.search (
    id bigint NOT NULL,
    account_id bigint NOT NULL,
    topic public.words NOT NULL,
    about public.words DEFAULT ''::text NOT NULL,
    asked jsonb NOT NULL,
    limit_ms integer NOT NULL,
    asked_at timestamp with time zone NOT NULL,
    begun_at timestamp with time zone,
    progress jsonb,
    holder bigint,
    held_until timestamp with time zone NOT NULL,
    stop_asked_at timestamp with time zone,
    ended_at timestamp with time zone,
    answered jsonb NOT NULL,
    CONSTRAINT search_limit CHECK (((limit_ms >= 1) AND (limit_ms <= 600000)))
);

COMMENT ON TABLE public.search IS 'A long calculation that somebody started. Forgotten after a day.';

COMMENT ON COLUMN public.search.id IS 'Number of the record.';

COMMENT ON COLUMN public.search.account_id IS 'Who started it; nobody else sees it.';

COMMENT ON COLUMN public.search.topic IS 'Name of the calculation.';

COMMENT ON COLUMN public.search.about IS 'What record it was started for, as a path; empty for none.';

COMMENT ON COLUMN public.search.asked IS 'Input of the calculation.';

COMMENT ON COLUMN public.search.limit_ms IS 'How long it may take, milliseconds.';

COMMENT ON COLUMN public.search.asked_at IS 'When it was asked for.';

COMMENT ON COLUMN public.search.begun_at IS 'When it began; null while it waits for its turn.';

COMMENT ON COLUMN public.search.progress IS 'How far it was when its server last said so.';

COMMENT ON COLUMN public.search.holder IS 'Which run of it on which server is at work, a number drawn for it; null for none.';

COMMENT ON COLUMN public.search.held_until IS 'Until when that run holds it; later, another server may take it up.';

COMMENT ON COLUMN public.search.stop_asked_at IS 'When somebody told it to stop and give the best it has.';

COMMENT ON COLUMN public.search.ended_at IS 'When it ended; null while it runs or waits.';

COMMENT ON COLUMN public.search.answered IS 'The best answer that is kept: a first one until it has ended.';

ALTER TABLE public.search ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.search_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.second_hands (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    who public.words DEFAULT ''::text NOT NULL,
    from_on date NOT NULL,
    to_on date,
    weekdays smallint[] NOT NULL,
    start_minute integer NOT NULL,
    minutes integer NOT NULL,
    while_away boolean DEFAULT false NOT NULL,
    CONSTRAINT second_hands_forward CHECK ((to_on >= from_on)),
    CONSTRAINT second_hands_minutes CHECK (((start_minute >= 0) AND (minutes > 0) AND ((start_minute + minutes) <= 1440))),
    CONSTRAINT second_hands_weekdays CHECK ((((cardinality(weekdays) >= 1) AND (cardinality(weekdays) <= 7)) AND (weekdays <@ ARRAY[(0)::smallint, (1)::smallint, (2)::smallint, (3)::smallint, (4)::smallint, (5)::smallint, (6)::smallint])))
);

COMMENT ON TABLE public.second_hands IS 'When somebody besides the owner works at the bench.';

COMMENT ON COLUMN public.second_hands.who IS 'empty: a second pair of hands';

COMMENT ON COLUMN public.second_hands.to_on IS 'the last day; empty: until it is ended';

COMMENT ON COLUMN public.second_hands.weekdays IS '0 is Sunday';

COMMENT ON COLUMN public.second_hands.start_minute IS 'minutes after midnight';

COMMENT ON COLUMN public.second_hands.minutes IS 'from start to end, the breaks of the owner''s hours included; minutes';

COMMENT ON COLUMN public.second_hands.while_away IS 'they come on days when the owner is away, too';

ALTER TABLE public.second_hands ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.second_hands_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.service (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    name public.words NOT NULL,
    each public.words DEFAULT 'piece'::text NOT NULL,
    unit_price_minor bigint NOT NULL,
    tax_code text DEFAULT 'standard'::text NOT NULL,
    seats integer,
    held_on date,
    put_away_at timestamp with time zone,
    CONSTRAINT service_name CHECK ((length(TRIM(BOTH FROM name)) > 0)),
    CONSTRAINT service_price CHECK ((unit_price_minor >= 0)),
    CONSTRAINT service_seats CHECK (((seats >= 1) AND (seats <= 1000)))
);

COMMENT ON TABLE public.service IS 'Splitting a hive, repair, minding, rescue, a course with seats, honey by the jar.';

COMMENT ON COLUMN public.service.each IS 'what one of it is: hive, hour, jar, seat';

COMMENT ON COLUMN public.service.unit_price_minor IS 'each, without tax, minor units';

COMMENT ON COLUMN public.service.seats IS 'of a course: how many there are';

COMMENT ON COLUMN public.service.held_on IS 'of a course: its day';

ALTER TABLE public.service ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.service_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.sessions (
    token text NOT NULL,
    data bytea NOT NULL,
    expiry timestamp with time zone NOT NULL
);

COMMENT ON TABLE public.sessions IS 'Sign-ins of people, as the session library keeps them.';

CREATE TABLE public.shelf_lot (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    model_revision_id bigint NOT NULL,
    makes text NOT NULL,
    piece public.words NOT NULL,
    timber_species_id bigint,
    on_hand integer DEFAULT 0 NOT NULL,
    put_aside integer DEFAULT 0 NOT NULL,
    CONSTRAINT shelf_lot_makes CHECK ((makes = ANY (ARRAY['section'::text, 'part'::text]))),
    CONSTRAINT shelf_lot_within CHECK (((0 <= put_aside) AND (put_aside <= on_hand)))
);

COMMENT ON TABLE public.shelf_lot IS 'Sections and parts on the shelf that bear no serial.';

ALTER TABLE public.shelf_lot ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.shelf_lot_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.sign_in_failure (
    id bigint NOT NULL,
    subject text NOT NULL,
    at timestamp with time zone DEFAULT now() NOT NULL
);

COMMENT ON TABLE public.sign_in_failure IS 'Failed sign-ins and serials typed into the public page, for throttling by name and by address.';

ALTER TABLE public.sign_in_failure ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.sign_in_failure_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.site (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    party_id bigint,
    name public.words DEFAULT ''::text NOT NULL,
    address public.words DEFAULT ''::text NOT NULL,
    town public.words DEFAULT ''::text NOT NULL,
    region public.words DEFAULT ''::text NOT NULL,
    postcode public.words DEFAULT ''::text NOT NULL,
    latitude double precision,
    longitude double precision,
    time_zone public.words DEFAULT 'Australia/Brisbane'::text NOT NULL,
    wall public.words DEFAULT ''::text NOT NULL,
    wall_faces_deg numeric(4,1),
    eave_out_mm numeric(8,1),
    eave_above_mm numeric(8,1),
    hives_there integer DEFAULT 0 NOT NULL,
    notes public.prose DEFAULT ''::text NOT NULL,
    put_away_at timestamp with time zone,
    CONSTRAINT site_both_coordinates CHECK (((latitude IS NULL) = (longitude IS NULL))),
    CONSTRAINT site_eave_above CHECK ((eave_above_mm >= (0)::numeric)),
    CONSTRAINT site_eave_out CHECK ((eave_out_mm >= (0)::numeric)),
    CONSTRAINT site_hives CHECK ((hives_there >= 0)),
    CONSTRAINT site_latitude CHECK (((latitude >= ('-90'::integer)::double precision) AND (latitude <= (90)::double precision))),
    CONSTRAINT site_longitude CHECK (((longitude >= ('-180'::integer)::double precision) AND (longitude <= (180)::double precision))),
    CONSTRAINT site_wall_faces CHECK (((wall_faces_deg >= (0)::numeric) AND (wall_faces_deg < (360)::numeric)))
);

COMMENT ON TABLE public.site IS 'A place where a hive stands or will stand.';

COMMENT ON COLUMN public.site.party_id IS 'none for the workshop''s own places';

COMMENT ON COLUMN public.site.latitude IS 'degrees, north positive';

COMMENT ON COLUMN public.site.longitude IS 'degrees, east positive';

COMMENT ON COLUMN public.site.wall IS 'brick, weatherboard, post...';

COMMENT ON COLUMN public.site.wall_faces_deg IS 'degrees from north, clockwise';

COMMENT ON COLUMN public.site.eave_out_mm IS 'mm';

COMMENT ON COLUMN public.site.eave_above_mm IS 'above the middle of the box front, mm';

ALTER TABLE public.site ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.site_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.split_plan (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    parent_id bigint NOT NULL,
    planned_on date NOT NULL,
    done_at timestamp with time zone,
    given_up_at timestamp with time zone,
    child_id bigint,
    CONSTRAINT split_plan_one_end CHECK (((done_at IS NULL) OR (given_up_at IS NULL)))
);

COMMENT ON TABLE public.split_plan IS 'A split that is planned: the colonies to come.';

ALTER TABLE public.split_plan ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.split_plan_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.stand_in (
    id bigint DEFAULT 1 NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    first_to_do public.prose DEFAULT ''::text NOT NULL,
    who_decides public.prose DEFAULT ''::text NOT NULL,
    backups public.prose DEFAULT ''::text NOT NULL,
    starting public.prose DEFAULT ''::text NOT NULL,
    CONSTRAINT stand_in_single CHECK ((id = 1))
);

COMMENT ON TABLE public.stand_in IS 'One row: the maker''s words for who stands in.';

COMMENT ON COLUMN public.stand_in.backups IS 'where the backups lie, and where their password is';

COMMENT ON COLUMN public.stand_in.starting IS 'how this book is started, and who can help';

CREATE TABLE public.standing_cost (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    name public.words NOT NULL,
    amount_minor bigint NOT NULL,
    every text DEFAULT 'month'::text NOT NULL,
    next_on date NOT NULL,
    put_away_at timestamp with time zone,
    CONSTRAINT standing_cost_amount CHECK ((amount_minor > 0)),
    CONSTRAINT standing_cost_every CHECK ((every = ANY (ARRAY['week'::text, 'fortnight'::text, 'month'::text, 'quarter'::text, 'year'::text]))),
    CONSTRAINT standing_cost_name CHECK ((length(TRIM(BOTH FROM name)) > 0))
);

COMMENT ON TABLE public.standing_cost IS 'What is paid again and again, such as rent or insurance.';

COMMENT ON COLUMN public.standing_cost.amount_minor IS 'with tax, minor units';

COMMENT ON COLUMN public.standing_cost.next_on IS 'a day on which it is due; the others follow from it';

ALTER TABLE public.standing_cost ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.standing_cost_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.stock_move (
    id bigint NOT NULL,
    lot_id bigint,
    item_id bigint,
    quantity integer NOT NULL,
    kind text NOT NULL,
    happened_at timestamp with time zone NOT NULL,
    recorded_at timestamp with time zone DEFAULT now() NOT NULL,
    build_id bigint,
    order_unit_id bigint,
    pack_id bigint,
    reason public.words DEFAULT ''::text NOT NULL,
    shelf_lot_id bigint,
    CONSTRAINT stock_move_kind CHECK ((kind = ANY (ARRAY['opening'::text, 'dressed'::text, 'made'::text, 'bought'::text, 'cut'::text, 'offcut'::text, 'used'::text, 'sold'::text, 'found'::text, 'lost'::text, 'docked'::text, 'ripped'::text, 'moved'::text, 'returned'::text, 'counted'::text]))),
    CONSTRAINT stock_move_one_thing CHECK ((num_nonnulls(lot_id, item_id, shelf_lot_id) = 1)),
    CONSTRAINT stock_move_quantity CHECK ((quantity <> 0)),
    CONSTRAINT stock_move_reason CHECK (((kind <> ALL (ARRAY['found'::text, 'lost'::text])) OR (length(TRIM(BOTH FROM reason)) > 0)))
);

COMMENT ON TABLE public.stock_move IS 'Every move of boards and items: appended, never changed.';

COMMENT ON COLUMN public.stock_move.quantity IS 'boards or pieces; negative goes out';

ALTER TABLE public.stock_move ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.stock_move_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.supplier (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    name public.words NOT NULL,
    phone public.words DEFAULT ''::text NOT NULL,
    lead_days integer DEFAULT 7 NOT NULL,
    notes public.prose DEFAULT ''::text NOT NULL,
    put_away_at timestamp with time zone,
    CONSTRAINT supplier_lead CHECK (((lead_days >= 0) AND (lead_days <= 1000)))
);

COMMENT ON TABLE public.supplier IS 'From whom timber, fittings and finish are bought.';

COMMENT ON COLUMN public.supplier.lead_days IS 'days';

ALTER TABLE public.supplier ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.supplier_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.tax_rate (
    id bigint NOT NULL,
    code text NOT NULL,
    name public.words NOT NULL,
    from_on date NOT NULL,
    rate_pct numeric(6,3) NOT NULL,
    CONSTRAINT tax_rate_code CHECK ((code ~ '^[a-z_]{2,20}$'::text)),
    CONSTRAINT tax_rate_pct CHECK (((rate_pct >= (0)::numeric) AND (rate_pct <= (100)::numeric)))
);

COMMENT ON TABLE public.tax_rate IS 'Tax codes a line can carry, with the rate by date.';

COMMENT ON COLUMN public.tax_rate.rate_pct IS 'percent of the net amount';

ALTER TABLE public.tax_rate ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.tax_rate_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.tax_registration (
    id bigint NOT NULL,
    from_on date NOT NULL,
    registered boolean NOT NULL,
    tax_name public.words DEFAULT 'GST'::text NOT NULL,
    recorded_at timestamp with time zone DEFAULT now() NOT NULL
);

COMMENT ON TABLE public.tax_registration IS 'Whether the workshop is registered for tax, from which day on.';

ALTER TABLE public.tax_registration ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.tax_registration_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.timber_species (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    code text NOT NULL,
    name public.words NOT NULL,
    botanical public.words DEFAULT ''::text NOT NULL,
    density_kg_m3 numeric(6,1),
    specific_gravity numeric(5,3),
    radial_pct numeric(5,2),
    tangential_pct numeric(5,2),
    shrinkage_to_mc_pct numeric(4,1) DEFAULT 0 NOT NULL,
    borers_like_sapwood boolean DEFAULT false NOT NULL,
    metre_cost_minor bigint DEFAULT 0 NOT NULL,
    source public.prose DEFAULT ''::text NOT NULL,
    put_away_at timestamp with time zone,
    green_mc_pct numeric(5,1),
    slowness numeric(4,2),
    meter_table jsonb DEFAULT '[]'::jsonb NOT NULL,
    meter_source public.words DEFAULT ''::text NOT NULL,
    CONSTRAINT timber_species_density CHECK (((density_kg_m3 >= (50)::numeric) AND (density_kg_m3 <= (1500)::numeric))),
    CONSTRAINT timber_species_green CHECK (((green_mc_pct >= (20)::numeric) AND (green_mc_pct <= (250)::numeric))),
    CONSTRAINT timber_species_meter CHECK ((jsonb_array_length(meter_table) <= 12)),
    CONSTRAINT timber_species_metre_cost CHECK ((metre_cost_minor >= 0)),
    CONSTRAINT timber_species_radial CHECK (((radial_pct >= (0)::numeric) AND (radial_pct <= (30)::numeric))),
    CONSTRAINT timber_species_runs_to CHECK (((shrinkage_to_mc_pct >= (0)::numeric) AND (shrinkage_to_mc_pct <= (25)::numeric))),
    CONSTRAINT timber_species_sg CHECK (((specific_gravity >= 0.05) AND (specific_gravity <= 1.5))),
    CONSTRAINT timber_species_slowness CHECK (((slowness >= 0.3) AND (slowness <= (5)::numeric))),
    CONSTRAINT timber_species_tangential CHECK (((tangential_pct >= (0)::numeric) AND (tangential_pct <= (30)::numeric)))
);

COMMENT ON TABLE public.timber_species IS 'Kinds of timber, each figure with its source; the maker can add his own.';

COMMENT ON COLUMN public.timber_species.code IS 'as the calculations name it';

COMMENT ON COLUMN public.timber_species.density_kg_m3 IS 'air-dry at 12 %, kg/m3';

COMMENT ON COLUMN public.timber_species.specific_gravity IS 'oven-dry mass on volume at 12 %';

COMMENT ON COLUMN public.timber_species.radial_pct IS 'shrinkage from green, percent';

COMMENT ON COLUMN public.timber_species.tangential_pct IS 'shrinkage from green, percent';

COMMENT ON COLUMN public.timber_species.shrinkage_to_mc_pct IS 'moisture the shrinkage runs to, percent';

COMMENT ON COLUMN public.timber_species.metre_cost_minor IS 'standard cost of a metre of 100 x 28 mm board, minor units, until a lot has its own';

COMMENT ON COLUMN public.timber_species.green_mc_pct IS 'usual moisture when sawn, percent of oven-dry mass; none: not known';

COMMENT ON COLUMN public.timber_species.slowness IS 'how many times as long it dries as its density says; none: as its density says';

COMMENT ON COLUMN public.timber_species.meter_table IS 'shows_pct and true_pct of the meter, ascending; empty: no correction known';

COMMENT ON COLUMN public.timber_species.meter_source IS 'where the correction of the meter is from';

ALTER TABLE public.timber_species ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.timber_species_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.time_spell (
    id bigint NOT NULL,
    build_operation_id bigint NOT NULL,
    account_id bigint NOT NULL,
    started_at timestamp with time zone NOT NULL,
    stopped_at timestamp with time zone,
    recorded_at timestamp with time zone DEFAULT now() NOT NULL,
    split_on date,
    CONSTRAINT time_spell_forward CHECK ((stopped_at > started_at))
);

COMMENT ON TABLE public.time_spell IS 'Time spent on an operation; one open spell per person.';

COMMENT ON COLUMN public.time_spell.split_on IS 'the day whose total was split over operations by their standard minutes; empty: this time was measured';

ALTER TABLE public.time_spell ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.time_spell_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.token (
    id bigint NOT NULL,
    account_id bigint NOT NULL,
    name public.words NOT NULL,
    hash bytea NOT NULL,
    made_at timestamp with time zone DEFAULT now() NOT NULL,
    used_at timestamp with time zone,
    withdrawn_at timestamp with time zone
);

COMMENT ON TABLE public.token IS 'Bearer tokens of programs; only the hash is kept.';

ALTER TABLE public.token ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.token_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.typed_in_line (
    id bigint NOT NULL,
    kind text NOT NULL,
    digest text NOT NULL,
    record_id bigint NOT NULL,
    came_at timestamp with time zone DEFAULT now() NOT NULL,
    CONSTRAINT typed_in_line_digest CHECK (((length(digest) >= 1) AND (length(digest) <= 100))),
    CONSTRAINT typed_in_line_kind CHECK ((kind = ANY (ARRAY['people'::text, 'boxes'::text, 'timber'::text, 'orders'::text])))
);

COMMENT ON TABLE public.typed_in_line IS 'What each line of a table file became; the digest is of its words and of how often they stood before.';

ALTER TABLE public.typed_in_line ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.typed_in_line_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.weather_day (
    id bigint NOT NULL,
    on_day date NOT NULL,
    dry boolean NOT NULL
);

COMMENT ON TABLE public.weather_day IS 'Days whose weather the maker knows.';

ALTER TABLE public.weather_day ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.weather_day_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.wording (
    id bigint NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    name text NOT NULL,
    body text,
    CONSTRAINT wording_body CHECK ((octet_length(body) <= 65536)),
    CONSTRAINT wording_name CHECK (((length(name) >= 1) AND (length(name) <= 100)))
);

COMMENT ON TABLE public.wording IS 'Wording of a sheet in the maker''s own words.';

COMMENT ON COLUMN public.wording.name IS 'file of the house wording it takes the place of, such as handover_front.tmpl';

COMMENT ON COLUMN public.wording.body IS 'NULL: the house wording is in use again';

ALTER TABLE public.wording ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.wording_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.wording_trouble (
    name text NOT NULL,
    paper public.words NOT NULL,
    said public.words NOT NULL,
    at timestamp with time zone NOT NULL
);

COMMENT ON TABLE public.wording_trouble IS 'The latest paper on which the maker''s wording failed and the house wording took its place.';

COMMENT ON COLUMN public.wording_trouble.paper IS 'number of the paper';

CREATE TABLE public.work_week (
    id bigint NOT NULL,
    from_on date NOT NULL,
    weekday smallint NOT NULL,
    start_minute integer NOT NULL,
    end_minute integer NOT NULL,
    hands integer DEFAULT 1 NOT NULL,
    CONSTRAINT work_week_day CHECK (((weekday >= 0) AND (weekday <= 6))),
    CONSTRAINT work_week_hands CHECK (((hands >= 1) AND (hands <= 20))),
    CONSTRAINT work_week_minutes CHECK (((0 <= start_minute) AND (start_minute < end_minute) AND (end_minute <= 1440)))
);

COMMENT ON TABLE public.work_week IS 'Hours of the week at the bench, from which day on.';

COMMENT ON COLUMN public.work_week.weekday IS '0 is Sunday';

COMMENT ON COLUMN public.work_week.start_minute IS 'minutes after midnight';

COMMENT ON COLUMN public.work_week.end_minute IS 'minutes after midnight';

ALTER TABLE public.work_week ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.work_week_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.workshop (
    id bigint DEFAULT 1 NOT NULL,
    version integer DEFAULT 1 NOT NULL,
    updated_at timestamp with time zone DEFAULT now() NOT NULL,
    name public.words NOT NULL,
    maker_name public.words DEFAULT ''::text NOT NULL,
    phone public.words DEFAULT ''::text NOT NULL,
    email public.words DEFAULT ''::text NOT NULL,
    address public.words DEFAULT ''::text NOT NULL,
    town public.words DEFAULT ''::text NOT NULL,
    region public.words DEFAULT ''::text NOT NULL,
    postcode public.words DEFAULT ''::text NOT NULL,
    country character(2) DEFAULT 'AU'::bpchar NOT NULL,
    latitude double precision,
    longitude double precision,
    time_zone public.words DEFAULT 'Australia/Brisbane'::text NOT NULL,
    currency character(3) DEFAULT 'AUD'::bpchar NOT NULL,
    minor_digits smallint DEFAULT 2 NOT NULL,
    business_number public.words DEFAULT ''::text NOT NULL,
    public_url public.words DEFAULT ''::text NOT NULL,
    quote_valid_days integer DEFAULT 30 NOT NULL,
    deposit_pct numeric(5,2) DEFAULT 30 NOT NULL,
    deposit_is text DEFAULT 'part payment'::text NOT NULL,
    overhead_pct numeric(6,2) DEFAULT 15 NOT NULL,
    margin_pct numeric(5,2) DEFAULT 30 NOT NULL,
    hour_cost_minor bigint DEFAULT 4000 NOT NULL,
    delivery_km_cost_minor bigint DEFAULT 90 NOT NULL,
    round_to_minor bigint DEFAULT 100 NOT NULL,
    length_step_mm integer DEFAULT 50 NOT NULL,
    saw_kerf_mm numeric(8,1) DEFAULT 3.2 NOT NULL,
    mill_kerf_mm numeric(8,1) DEFAULT 3 NOT NULL,
    mill_limit_mm numeric(8,1) DEFAULT 600 NOT NULL,
    trim_mm numeric(8,1) DEFAULT 15 NOT NULL,
    keep_offcut_mm integer DEFAULT 250 NOT NULL,
    guarantee public.prose DEFAULT ''::text NOT NULL,
    ways_to_pay public.prose DEFAULT ''::text NOT NULL,
    not_included public.prose DEFAULT ''::text NOT NULL,
    could_delay public.prose DEFAULT ''::text NOT NULL,
    terms public.prose DEFAULT ''::text NOT NULL,
    label_sheet jsonb DEFAULT '{}'::jsonb NOT NULL,
    follow_up_days integer[] DEFAULT '{1,14,60,365}'::integer[] NOT NULL,
    set_up_at timestamp with time zone,
    planing_mm numeric(4,1) DEFAULT 2 NOT NULL,
    straighten_width_mm numeric(4,1) DEFAULT 3 NOT NULL,
    straighten_thickness_mm numeric(4,1) DEFAULT 0 NOT NULL,
    saw_variation_mm numeric(4,1) DEFAULT 1 NOT NULL,
    box_mc_pct numeric(4,1) DEFAULT 12 NOT NULL,
    sawn_grain text DEFAULT 'mixed'::text NOT NULL,
    short_board_mm integer DEFAULT 900 NOT NULL,
    mill_hour_cost_minor bigint DEFAULT 4000 NOT NULL,
    mill_min_m3 integer DEFAULT 300 NOT NULL,
    drying_m3_month_minor bigint DEFAULT 300 NOT NULL,
    CONSTRAINT workshop_box_mc CHECK (((box_mc_pct >= (3)::numeric) AND (box_mc_pct <= (25)::numeric))),
    CONSTRAINT workshop_deposit_is CHECK ((deposit_is = ANY (ARRAY['part payment'::text, 'security'::text]))),
    CONSTRAINT workshop_deposit_pct CHECK (((deposit_pct >= (0)::numeric) AND (deposit_pct <= (100)::numeric))),
    CONSTRAINT workshop_drying_space CHECK ((drying_m3_month_minor >= 0)),
    CONSTRAINT workshop_hour_cost CHECK ((hour_cost_minor >= 0)),
    CONSTRAINT workshop_keep_offcut CHECK ((keep_offcut_mm >= 0)),
    CONSTRAINT workshop_km_cost CHECK ((delivery_km_cost_minor >= 0)),
    CONSTRAINT workshop_latitude CHECK (((latitude >= ('-90'::integer)::double precision) AND (latitude <= (90)::double precision))),
    CONSTRAINT workshop_length_step CHECK (((length_step_mm >= 1) AND (length_step_mm <= 1000))),
    CONSTRAINT workshop_longitude CHECK (((longitude >= ('-180'::integer)::double precision) AND (longitude <= (180)::double precision))),
    CONSTRAINT workshop_margin_pct CHECK (((margin_pct >= (0)::numeric) AND (margin_pct < (100)::numeric))),
    CONSTRAINT workshop_mill_hour_cost CHECK ((mill_hour_cost_minor >= 0)),
    CONSTRAINT workshop_mill_kerf CHECK (((mill_kerf_mm >= (0)::numeric) AND (mill_kerf_mm <= (30)::numeric))),
    CONSTRAINT workshop_mill_limit CHECK ((mill_limit_mm > (0)::numeric)),
    CONSTRAINT workshop_mill_min CHECK (((mill_min_m3 >= 0) AND (mill_min_m3 <= 10000))),
    CONSTRAINT workshop_minor_digits CHECK (((minor_digits >= 0) AND (minor_digits <= 3))),
    CONSTRAINT workshop_name CHECK ((length(TRIM(BOTH FROM name)) > 0)),
    CONSTRAINT workshop_overhead_pct CHECK (((overhead_pct >= (0)::numeric) AND (overhead_pct <= (500)::numeric))),
    CONSTRAINT workshop_planing CHECK (((planing_mm >= (0)::numeric) AND (planing_mm <= (30)::numeric))),
    CONSTRAINT workshop_quote_valid_days CHECK (((quote_valid_days >= 1) AND (quote_valid_days <= 365))),
    CONSTRAINT workshop_round_to CHECK ((round_to_minor >= 1)),
    CONSTRAINT workshop_saw_kerf CHECK (((saw_kerf_mm >= (0)::numeric) AND (saw_kerf_mm <= (20)::numeric))),
    CONSTRAINT workshop_saw_variation CHECK (((saw_variation_mm >= (0)::numeric) AND (saw_variation_mm <= (20)::numeric))),
    CONSTRAINT workshop_sawn_grain CHECK ((sawn_grain = ANY (ARRAY['radial'::text, 'tangential'::text, 'mixed'::text]))),
    CONSTRAINT workshop_short_board CHECK (((short_board_mm >= 100) AND (short_board_mm <= 20000))),
    CONSTRAINT workshop_single CHECK ((id = 1)),
    CONSTRAINT workshop_straighten_thickness CHECK (((straighten_thickness_mm >= (0)::numeric) AND (straighten_thickness_mm <= (50)::numeric))),
    CONSTRAINT workshop_straighten_width CHECK (((straighten_width_mm >= (0)::numeric) AND (straighten_width_mm <= (50)::numeric))),
    CONSTRAINT workshop_trim CHECK ((trim_mm >= (0)::numeric))
);

COMMENT ON TABLE public.workshop IS 'The workshop itself: one row, and the settings that papers and answers use.';

COMMENT ON COLUMN public.workshop.country IS 'ISO 3166-1 alpha-2; also how phone numbers without a country are read';

COMMENT ON COLUMN public.workshop.latitude IS 'degrees, north positive';

COMMENT ON COLUMN public.workshop.longitude IS 'degrees, east positive';

COMMENT ON COLUMN public.workshop.currency IS 'ISO 4217';

COMMENT ON COLUMN public.workshop.minor_digits IS 'decimals of the currency''s minor unit';

COMMENT ON COLUMN public.workshop.public_url IS 'address at which buyers can reach care pages; empty means no QR codes';

COMMENT ON COLUMN public.workshop.quote_valid_days IS 'days';

COMMENT ON COLUMN public.workshop.deposit_pct IS 'percent of the price with tax';

COMMENT ON COLUMN public.workshop.deposit_is IS 'changes when tax falls due: ask the bookkeeper';

COMMENT ON COLUMN public.workshop.overhead_pct IS 'percent on every cost line';

COMMENT ON COLUMN public.workshop.margin_pct IS 'wanted margin, percent of the price ex tax';

COMMENT ON COLUMN public.workshop.hour_cost_minor IS 'cost of one hour of the maker, minor units';

COMMENT ON COLUMN public.workshop.delivery_km_cost_minor IS 'cost of one kilometre driven, minor units';

COMMENT ON COLUMN public.workshop.round_to_minor IS 'prices with tax are rounded to this, minor units';

COMMENT ON COLUMN public.workshop.length_step_mm IS 'usable board lengths are rounded down to this, mm';

COMMENT ON COLUMN public.workshop.saw_kerf_mm IS 'kerf of the bench saw, mm';

COMMENT ON COLUMN public.workshop.mill_kerf_mm IS 'kerf of the mill, mm';

COMMENT ON COLUMN public.workshop.mill_limit_mm IS 'largest log the mill takes, mm';

COMMENT ON COLUMN public.workshop.trim_mm IS 'docked off each end of a board before use, mm';

COMMENT ON COLUMN public.workshop.keep_offcut_mm IS 'offcuts from this length up go back on the rack, mm';

COMMENT ON COLUMN public.workshop.guarantee IS 'two lines printed on quotes';

COMMENT ON COLUMN public.workshop.label_sheet IS 'label sheet measures in mm, see paper';

COMMENT ON COLUMN public.workshop.follow_up_days IS 'days after a handover on which to ask';

COMMENT ON COLUMN public.workshop.planing_mm IS 'taken off both faces together, mm';

COMMENT ON COLUMN public.workshop.straighten_width_mm IS 'taken off the width of a dry board to make it straight, mm';

COMMENT ON COLUMN public.workshop.straighten_thickness_mm IS 'taken off the thickness of a dry board to make it flat, mm';

COMMENT ON COLUMN public.workshop.saw_variation_mm IS 'how far below its mark a board may come off the mill, mm';

COMMENT ON COLUMN public.workshop.box_mc_pct IS 'moisture the boxes will live at, percent';

COMMENT ON COLUMN public.workshop.sawn_grain IS 'which shrinkage boards are sawn for';

COMMENT ON COLUMN public.workshop.short_board_mm IS 'shortest board that is of use, mm';

COMMENT ON COLUMN public.workshop.mill_hour_cost_minor IS 'an hour at the mill: hands, fuel and blades, minor units';

COMMENT ON COLUMN public.workshop.mill_min_m3 IS 'minutes at the mill for a cubic metre of log, until the logs tell';

COMMENT ON COLUMN public.workshop.drying_m3_month_minor IS 'cost of a cubic metre of stack for a month, minor units';

ALTER TABLE ONLY public.account
    ADD CONSTRAINT account_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.account
    ADD CONSTRAINT account_sign_in_once UNIQUE (sign_in);

ALTER TABLE ONLY public.after_care
    ADD CONSTRAINT after_care_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.attachment
    ADD CONSTRAINT attachment_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.away
    ADD CONSTRAINT away_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.bee_species
    ADD CONSTRAINT bee_species_code_once UNIQUE (code);

ALTER TABLE ONLY public.bee_species
    ADD CONSTRAINT bee_species_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.bench_plan
    ADD CONSTRAINT bench_plan_number_once UNIQUE (number);

ALTER TABLE ONLY public.bench_plan
    ADD CONSTRAINT bench_plan_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.bench_plan_step
    ADD CONSTRAINT bench_plan_step_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.board_cut
    ADD CONSTRAINT board_cut_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.board_lot
    ADD CONSTRAINT board_lot_once UNIQUE NULLS NOT DISTINCT (species_id, board_size_id, grade, length_mm, thickness_true_mm, place, pack_id, offcut);

ALTER TABLE ONLY public.board_lot
    ADD CONSTRAINT board_lot_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.board_size
    ADD CONSTRAINT board_size_once UNIQUE (width_mm, thickness_mm);

ALTER TABLE ONLY public.board_size
    ADD CONSTRAINT board_size_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.box_asked
    ADD CONSTRAINT box_asked_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.box_model
    ADD CONSTRAINT box_model_code_once UNIQUE (code);

ALTER TABLE ONLY public.box_model
    ADD CONSTRAINT box_model_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.box_option
    ADD CONSTRAINT box_option_code_once UNIQUE (code);

ALTER TABLE ONLY public.box_option
    ADD CONSTRAINT box_option_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.box_owner
    ADD CONSTRAINT box_owner_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.box
    ADD CONSTRAINT box_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.box_place
    ADD CONSTRAINT box_place_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.box_report
    ADD CONSTRAINT box_report_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.box_section
    ADD CONSTRAINT box_section_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.box
    ADD CONSTRAINT box_serial_once UNIQUE (serial);

ALTER TABLE ONLY public.build
    ADD CONSTRAINT build_number_once UNIQUE (number);

ALTER TABLE ONLY public.build_operation
    ADD CONSTRAINT build_operation_once UNIQUE (build_id, "position");

ALTER TABLE ONLY public.build_operation
    ADD CONSTRAINT build_operation_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.build_output
    ADD CONSTRAINT build_output_once UNIQUE (build_id, n);

ALTER TABLE ONLY public.build_output
    ADD CONSTRAINT build_output_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.build
    ADD CONSTRAINT build_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.buyer_class
    ADD CONSTRAINT buyer_class_name_once UNIQUE (name);

ALTER TABLE ONLY public.buyer_class
    ADD CONSTRAINT buyer_class_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.calendar_book
    ADD CONSTRAINT calendar_book_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.calendar_feed
    ADD CONSTRAINT calendar_feed_key_once UNIQUE (key);

ALTER TABLE ONLY public.calendar_feed
    ADD CONSTRAINT calendar_feed_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.claim
    ADD CONSTRAINT claim_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.climate
    ADD CONSTRAINT climate_name_once UNIQUE (name);

ALTER TABLE ONLY public.climate
    ADD CONSTRAINT climate_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.colony_event
    ADD CONSTRAINT colony_event_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.colony_keeper
    ADD CONSTRAINT colony_keeper_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.colony
    ADD CONSTRAINT colony_number_once UNIQUE (number);

ALTER TABLE ONLY public.colony_owner
    ADD CONSTRAINT colony_owner_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.colony_parent
    ADD CONSTRAINT colony_parent_once UNIQUE (colony_id, parent_id, kind);

ALTER TABLE ONLY public.colony_parent
    ADD CONSTRAINT colony_parent_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.colony
    ADD CONSTRAINT colony_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.colony_place
    ADD CONSTRAINT colony_place_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.colony_species
    ADD CONSTRAINT colony_species_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.contact
    ADD CONSTRAINT contact_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.counter
    ADD CONSTRAINT counter_pkey PRIMARY KEY (name);

ALTER TABLE ONLY public.cut_part
    ADD CONSTRAINT cut_part_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.cutting_build
    ADD CONSTRAINT cutting_build_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.cutting
    ADD CONSTRAINT cutting_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.cutting_plan
    ADD CONSTRAINT cutting_plan_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.day_mark
    ADD CONSTRAINT day_mark_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.day_mark
    ADD CONSTRAINT day_mark_subject_once UNIQUE (subject);

ALTER TABLE ONLY public.document
    ADD CONSTRAINT document_number_once UNIQUE (kind, number, revision);

ALTER TABLE ONLY public.document
    ADD CONSTRAINT document_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.dressing_lot
    ADD CONSTRAINT dressing_lot_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.dressing
    ADD CONSTRAINT dressing_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.dry_operation
    ADD CONSTRAINT dry_operation_once UNIQUE (model_id, name);

ALTER TABLE ONLY public.dry_operation
    ADD CONSTRAINT dry_operation_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.enquiry
    ADD CONSTRAINT enquiry_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.fetch_reminder
    ADD CONSTRAINT fetch_reminder_once UNIQUE (order_id, ready_on, after_days);

ALTER TABLE ONLY public.fetch_reminder
    ADD CONSTRAINT fetch_reminder_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.fit
    ADD CONSTRAINT fit_name_once UNIQUE (name);

ALTER TABLE ONLY public.fit
    ADD CONSTRAINT fit_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.fit_size
    ADD CONSTRAINT fit_size_once UNIQUE (fit_id, name);

ALTER TABLE ONLY public.fit_size
    ADD CONSTRAINT fit_size_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.follow_up
    ADD CONSTRAINT follow_up_once UNIQUE (handover_id, due_on);

ALTER TABLE ONLY public.follow_up
    ADD CONSTRAINT follow_up_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.guarantee_claim
    ADD CONSTRAINT guarantee_claim_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.guess
    ADD CONSTRAINT guess_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.guess
    ADD CONSTRAINT guess_subject_once UNIQUE (subject);

ALTER TABLE ONLY public.handover
    ADD CONSTRAINT handover_care_key_once UNIQUE (care_key);

ALTER TABLE ONLY public.handover
    ADD CONSTRAINT handover_number_once UNIQUE (number);

ALTER TABLE ONLY public.handover
    ADD CONSTRAINT handover_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.history
    ADD CONSTRAINT history_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.host_tree
    ADD CONSTRAINT host_tree_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.host_tree_visit
    ADD CONSTRAINT host_tree_visit_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.housing
    ADD CONSTRAINT housing_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.idempotency
    ADD CONSTRAINT idempotency_pk PRIMARY KEY (actor_id, key);

ALTER TABLE ONLY public.invoice_line
    ADD CONSTRAINT invoice_line_once UNIQUE (invoice_id, "position");

ALTER TABLE ONLY public.invoice_line
    ADD CONSTRAINT invoice_line_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.invoice
    ADD CONSTRAINT invoice_number_once UNIQUE (number);

ALTER TABLE ONLY public.invoice
    ADD CONSTRAINT invoice_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.item
    ADD CONSTRAINT item_code_once UNIQUE (code);

ALTER TABLE ONLY public.item
    ADD CONSTRAINT item_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.keeping
    ADD CONSTRAINT keeping_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.limited_thing
    ADD CONSTRAINT limited_thing_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.line_move
    ADD CONSTRAINT line_move_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.list_price
    ADD CONSTRAINT list_price_day_once UNIQUE (subject, from_on);

ALTER TABLE ONLY public.list_price
    ADD CONSTRAINT list_price_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.log_board
    ADD CONSTRAINT log_board_once UNIQUE (log_id, board_size_id, length_mm, grade);

ALTER TABLE ONLY public.log_board
    ADD CONSTRAINT log_board_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.log
    ADD CONSTRAINT log_number_once UNIQUE (number);

ALTER TABLE ONLY public.log
    ADD CONSTRAINT log_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.mail
    ADD CONSTRAINT mail_message_id_once UNIQUE (message_id);

ALTER TABLE ONLY public.mail
    ADD CONSTRAINT mail_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.milling_pace
    ADD CONSTRAINT milling_pace_once UNIQUE (species_id, model_id);

ALTER TABLE ONLY public.milling_pace
    ADD CONSTRAINT milling_pace_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.model_revision
    ADD CONSTRAINT model_revision_once UNIQUE (model_id, revision);

ALTER TABLE ONLY public.model_revision
    ADD CONSTRAINT model_revision_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.movement
    ADD CONSTRAINT movement_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.order_line
    ADD CONSTRAINT order_line_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.order_line
    ADD CONSTRAINT order_line_position_once UNIQUE (order_id, "position");

ALTER TABLE ONLY public.order_unit
    ADD CONSTRAINT order_unit_n_once UNIQUE (order_line_id, n);

ALTER TABLE ONLY public.order_unit
    ADD CONSTRAINT order_unit_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.pack_content
    ADD CONSTRAINT pack_content_once UNIQUE (pack_id, length_mm, grade);

ALTER TABLE ONLY public.pack_content
    ADD CONSTRAINT pack_content_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.pack
    ADD CONSTRAINT pack_number_once UNIQUE (number);

ALTER TABLE ONLY public.pack
    ADD CONSTRAINT pack_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.pack_place
    ADD CONSTRAINT pack_place_once UNIQUE (pack_id, from_on);

ALTER TABLE ONLY public.pack_place
    ADD CONSTRAINT pack_place_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.pack_reading
    ADD CONSTRAINT pack_reading_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.party
    ADD CONSTRAINT party_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.payment
    ADD CONSTRAINT payment_number_once UNIQUE (number);

ALTER TABLE ONLY public.payment
    ADD CONSTRAINT payment_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.permit
    ADD CONSTRAINT permit_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.promise_change
    ADD CONSTRAINT promise_change_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.purchase_line
    ADD CONSTRAINT purchase_line_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.purchase
    ADD CONSTRAINT purchase_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.quote_alternative
    ADD CONSTRAINT quote_alternative_letter_once UNIQUE (quote_id, letter);

ALTER TABLE ONLY public.quote_alternative
    ADD CONSTRAINT quote_alternative_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.quote_event
    ADD CONSTRAINT quote_event_once UNIQUE (quote_id);

ALTER TABLE ONLY public.quote_event
    ADD CONSTRAINT quote_event_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.quote_line
    ADD CONSTRAINT quote_line_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.quote_line
    ADD CONSTRAINT quote_line_position_once UNIQUE (alternative_id, "position");

ALTER TABLE ONLY public.quote
    ADD CONSTRAINT quote_number_once UNIQUE (number, revision);

ALTER TABLE ONLY public.quote
    ADD CONSTRAINT quote_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.rain_month
    ADD CONSTRAINT rain_month_once UNIQUE (month);

ALTER TABLE ONLY public.rain_month
    ADD CONSTRAINT rain_month_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.ring_call
    ADD CONSTRAINT ring_call_once UNIQUE (away_id, subject);

ALTER TABLE ONLY public.ring_call
    ADD CONSTRAINT ring_call_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.run
    ADD CONSTRAINT run_number_once UNIQUE (number);

ALTER TABLE ONLY public.run
    ADD CONSTRAINT run_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.run_stop
    ADD CONSTRAINT run_stop_once UNIQUE (run_id, "position") DEFERRABLE INITIALLY DEFERRED;

ALTER TABLE ONLY public.run_stop
    ADD CONSTRAINT run_stop_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.sale_order
    ADD CONSTRAINT sale_order_number_once UNIQUE (number);

ALTER TABLE ONLY public.sale_order
    ADD CONSTRAINT sale_order_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.sale_order
    ADD CONSTRAINT sale_order_quote_once UNIQUE (quote_id);

ALTER TABLE ONLY public.schema_migration
    ADD CONSTRAINT schema_migration_pkey PRIMARY KEY (version);

ALTER TABLE ONLY public.search
    ADD CONSTRAINT search_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.second_hands
    ADD CONSTRAINT second_hands_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.service
    ADD CONSTRAINT service_name_once UNIQUE (name);

ALTER TABLE ONLY public.service
    ADD CONSTRAINT service_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.sessions
    ADD CONSTRAINT sessions_pkey PRIMARY KEY (token);

ALTER TABLE ONLY public.shelf_lot
    ADD CONSTRAINT shelf_lot_once UNIQUE NULLS NOT DISTINCT (model_revision_id, makes, piece, timber_species_id);

ALTER TABLE ONLY public.shelf_lot
    ADD CONSTRAINT shelf_lot_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.sign_in_failure
    ADD CONSTRAINT sign_in_failure_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.site
    ADD CONSTRAINT site_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.split_plan
    ADD CONSTRAINT split_plan_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.stand_in
    ADD CONSTRAINT stand_in_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.standing_cost
    ADD CONSTRAINT standing_cost_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.stock_move
    ADD CONSTRAINT stock_move_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.supplier
    ADD CONSTRAINT supplier_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.tax_rate
    ADD CONSTRAINT tax_rate_day_once UNIQUE (code, from_on);

ALTER TABLE ONLY public.tax_rate
    ADD CONSTRAINT tax_rate_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.tax_registration
    ADD CONSTRAINT tax_registration_day_once UNIQUE (from_on);

ALTER TABLE ONLY public.tax_registration
    ADD CONSTRAINT tax_registration_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.timber_species
    ADD CONSTRAINT timber_species_code_once UNIQUE (code);

ALTER TABLE ONLY public.timber_species
    ADD CONSTRAINT timber_species_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.time_spell
    ADD CONSTRAINT time_spell_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.token
    ADD CONSTRAINT token_hash_once UNIQUE (hash);

ALTER TABLE ONLY public.token
    ADD CONSTRAINT token_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.typed_in_line
    ADD CONSTRAINT typed_in_line_once UNIQUE (kind, digest);

ALTER TABLE ONLY public.typed_in_line
    ADD CONSTRAINT typed_in_line_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.weather_day
    ADD CONSTRAINT weather_day_once UNIQUE (on_day);

ALTER TABLE ONLY public.weather_day
    ADD CONSTRAINT weather_day_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.wording
    ADD CONSTRAINT wording_once UNIQUE (name);

ALTER TABLE ONLY public.wording
    ADD CONSTRAINT wording_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.wording_trouble
    ADD CONSTRAINT wording_trouble_pkey PRIMARY KEY (name);

ALTER TABLE ONLY public.work_week
    ADD CONSTRAINT work_week_once UNIQUE (from_on, weekday, start_minute);

ALTER TABLE ONLY public.work_week
    ADD CONSTRAINT work_week_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.workshop
    ADD CONSTRAINT workshop_pkey PRIMARY KEY (id);

CREATE INDEX attachment_of_row ON public.attachment USING btree (table_name, row_id);

CREATE INDEX bench_plan_step_plan ON public.bench_plan_step USING btree (plan_id, starts_at);

CREATE INDEX board_cut_build ON public.board_cut USING btree (build_id);

CREATE INDEX board_cut_plan ON public.board_cut USING btree (plan_id) WHERE (plan_id IS NOT NULL);

CREATE INDEX board_lot_rack ON public.board_lot USING btree (species_id, board_size_id, length_mm) WHERE (on_hand > 0);

CREATE INDEX box_asked_lately ON public.box_asked USING btree (box_id, at);

CREATE INDEX box_finished ON public.box USING btree (finished_at DESC, id DESC);

CREATE INDEX box_of_model ON public.box USING btree (model_revision_id);

CREATE UNIQUE INDEX box_owner_one_now ON public.box_owner USING btree (box_id) WHERE (to_at IS NULL);

CREATE INDEX box_owner_ours ON public.box_owner USING btree (box_id) WHERE ((party_id IS NULL) AND (to_at IS NULL));

CREATE INDEX box_owner_party ON public.box_owner USING btree (party_id) WHERE (party_id IS NOT NULL);

CREATE UNIQUE INDEX box_place_one_now ON public.box_place USING btree (box_id) WHERE (to_at IS NULL);

CREATE INDEX box_report_box ON public.box_report USING btree (box_id, id);

CREATE UNIQUE INDEX box_report_one_open ON public.box_report USING btree (box_id) WHERE (recovered_at IS NULL);

CREATE UNIQUE INDEX box_section_one_a_place ON public.box_section USING btree (box_id, place_in_box) WHERE (to_at IS NULL);

CREATE INDEX build_due ON public.build USING btree (COALESCE(due_on, '9999-12-31'::date), id) WHERE ((finished_at IS NULL) AND (cancelled_at IS NULL));

CREATE INDEX build_finished ON public.build USING btree (finished_at DESC, id DESC) WHERE (finished_at IS NOT NULL);

CREATE INDEX build_open ON public.build USING btree (due_on, id) WHERE ((finished_at IS NULL) AND (cancelled_at IS NULL));

CREATE INDEX build_output_unit ON public.build_output USING btree (order_unit_id) WHERE (order_unit_id IS NOT NULL);

CREATE INDEX claim_broken ON public.claim USING btree (ended_at) WHERE (ended_how = 'broken by a fact'::text);

CREATE INDEX claim_build ON public.claim USING btree (build_id) WHERE (build_id IS NOT NULL);

CREATE INDEX claim_item ON public.claim USING btree (item_id) WHERE ((item_id IS NOT NULL) AND (ended_at IS NULL));

CREATE INDEX claim_lot ON public.claim USING btree (lot_id) WHERE ((lot_id IS NOT NULL) AND (ended_at IS NULL));

CREATE UNIQUE INDEX claim_one_a_box ON public.claim USING btree (box_id) WHERE ((ended_at IS NULL) AND (box_id IS NOT NULL));

CREATE UNIQUE INDEX claim_one_a_colony ON public.claim USING btree (colony_id) WHERE ((ended_at IS NULL) AND (colony_id IS NOT NULL));

CREATE INDEX claim_pack ON public.claim USING btree (pack_id) WHERE ((pack_id IS NOT NULL) AND (ended_at IS NULL));

CREATE INDEX claim_unit ON public.claim USING btree (order_unit_id) WHERE (order_unit_id IS NOT NULL);

CREATE INDEX colony_event_of ON public.colony_event USING btree (colony_id, happened_at DESC);

CREATE UNIQUE INDEX colony_keeper_one_now ON public.colony_keeper USING btree (colony_id) WHERE (to_at IS NULL);

CREATE INDEX colony_living ON public.colony USING btree (id) WHERE (ended_at IS NULL);

CREATE INDEX colony_of_tree ON public.colony USING btree (host_tree_id) WHERE (host_tree_id IS NOT NULL);

CREATE UNIQUE INDEX colony_owner_one_now ON public.colony_owner USING btree (colony_id) WHERE (to_at IS NULL);

CREATE INDEX colony_parent_of ON public.colony_parent USING btree (parent_id);

CREATE INDEX colony_permit ON public.colony USING btree (permit_id) WHERE (permit_id IS NOT NULL);

CREATE UNIQUE INDEX colony_place_one_now ON public.colony_place USING btree (colony_id) WHERE (to_at IS NULL);

CREATE INDEX colony_species_latest ON public.colony_species USING btree (colony_id, found_on DESC, id DESC);

CREATE INDEX contact_normal ON public.contact USING btree (normal text_pattern_ops);

CREATE INDEX contact_party ON public.contact USING btree (party_id);

CREATE INDEX contact_tail ON public.contact USING btree (reverse(normal) text_pattern_ops);

CREATE INDEX cut_part_build ON public.cut_part USING btree (build_id);

CREATE INDEX cut_part_cut ON public.cut_part USING btree (board_cut_id);

CREATE INDEX cutting_build_of ON public.cutting_build USING btree (cutting_id, build_id);

CREATE UNIQUE INDEX cutting_build_one ON public.cutting_build USING btree (build_id) WHERE (left_at IS NULL);

CREATE INDEX cutting_plan_build ON public.cutting_plan USING btree (build_id, id);

CREATE INDEX cutting_plan_of ON public.cutting_plan USING btree (cutting_id, id);

CREATE INDEX dressing_from_lot ON public.dressing USING btree (lot_id, id) WHERE (lot_id IS NOT NULL);

CREATE INDEX dressing_lot_dressing ON public.dressing_lot USING btree (dressing_id, id);

CREATE INDEX dressing_lot_lot ON public.dressing_lot USING btree (lot_id, id);

CREATE INDEX dressing_pack ON public.dressing USING btree (pack_id, id) WHERE (pack_id IS NOT NULL);

CREATE INDEX enquiry_find ON public.enquiry USING gin (find) WITH (fastupdate=off);

CREATE INDEX enquiry_open ON public.enquiry USING btree (happened_at DESC, id DESC) WHERE (closed_at IS NULL);

CREATE INDEX enquiry_party ON public.enquiry USING btree (party_id);

CREATE INDEX enquiry_ring ON public.enquiry USING btree (ring_again_on) WHERE ((ring_again_on IS NOT NULL) AND (closed_at IS NULL));

CREATE INDEX enquiry_tail ON public.enquiry USING btree (reverse(number_normal) text_pattern_ops);

CREATE INDEX enquiry_when ON public.enquiry USING btree (happened_at DESC, id DESC);

CREATE INDEX follow_up_due ON public.follow_up USING btree (due_on, id) WHERE (answered_at IS NULL);

CREATE INDEX guarantee_claim_handover ON public.guarantee_claim USING btree (handover_id);

CREATE INDEX handover_box ON public.handover USING btree (box_id);

CREATE UNIQUE INDEX handover_one_a_unit ON public.handover USING btree (order_unit_id) WHERE (undone_at IS NULL);

CREATE INDEX handover_when ON public.handover USING btree (happened_at DESC, id DESC);

CREATE INDEX history_of_row ON public.history USING btree (table_name, row_id, id);

CREATE INDEX host_tree_box ON public.host_tree USING btree (box_id) WHERE ((box_id IS NOT NULL) AND (put_away_at IS NULL));

CREATE INDEX host_tree_permit ON public.host_tree USING btree (permit_id) WHERE (permit_id IS NOT NULL);

CREATE INDEX host_tree_visit_of ON public.host_tree_visit USING btree (host_tree_id, happened_at DESC, id DESC);

CREATE INDEX housing_box ON public.housing USING btree (box_id, from_at DESC) WHERE (box_id IS NOT NULL);

CREATE UNIQUE INDEX housing_one_a_box ON public.housing USING btree (box_id) WHERE (to_at IS NULL);

CREATE UNIQUE INDEX housing_one_a_colony ON public.housing USING btree (colony_id) WHERE (to_at IS NULL);

CREATE INDEX idempotency_age ON public.idempotency USING btree (made_at);

CREATE INDEX invoice_adjusts_id ON public.invoice USING btree (adjusts_id) WHERE (adjusts_id IS NOT NULL);

CREATE INDEX invoice_line_adjusts ON public.invoice_line USING btree (adjusts_line_id) WHERE (adjusts_line_id IS NOT NULL);

CREATE INDEX invoice_line_deducts ON public.invoice_line USING btree (deducts_id) WHERE (deducts_id IS NOT NULL);

CREATE INDEX invoice_line_unit ON public.invoice_line USING btree (order_unit_id) WHERE (order_unit_id IS NOT NULL);

CREATE INDEX invoice_order ON public.invoice USING btree (order_id);

CREATE INDEX invoice_when ON public.invoice USING btree (issued_at DESC, id DESC);

CREATE INDEX item_may_be_low ON public.item USING btree (code) WHERE ((put_away_at IS NULL) AND (((NOT counted) AND low) OR (counted AND (low_mark > 0))));

CREATE UNIQUE INDEX keeping_one_a_box ON public.keeping USING btree (box_id) WHERE ((ended_at IS NULL) AND (box_id IS NOT NULL));

CREATE UNIQUE INDEX keeping_one_a_colony ON public.keeping USING btree (colony_id) WHERE ((ended_at IS NULL) AND (colony_id IS NOT NULL));

CREATE INDEX keeping_open ON public.keeping USING btree (back_on) WHERE (ended_at IS NULL);

CREATE UNIQUE INDEX limited_thing_once ON public.limited_thing USING btree (lower((name)::text));

CREATE INDEX line_move_unit ON public.line_move USING btree (order_unit_id, id DESC);

CREATE INDEX log_minutes ON public.log USING btree (sawn_at DESC, id DESC) WHERE (sawn_min > 0);

CREATE INDEX log_yields ON public.log USING btree (species_id, sawn_at DESC, id DESC) WHERE (real_m3 IS NOT NULL);

CREATE INDEX mail_of_paper ON public.mail USING btree (paper, number, id);

CREATE INDEX mail_waiting ON public.mail USING btree (next_try_at, id) WHERE ((sent_at IS NULL) AND (gave_up_at IS NULL));

CREATE INDEX movement_colony ON public.movement USING btree (colony_id, happened_at);

CREATE INDEX movement_permit ON public.movement USING btree (permit_id) WHERE (permit_id IS NOT NULL);

CREATE INDEX movement_when ON public.movement USING btree (happened_at DESC, id DESC);

CREATE INDEX order_line_service ON public.order_line USING btree (service_id) WHERE (service_id IS NOT NULL);

CREATE INDEX order_unit_colony_line ON public.order_unit USING btree (id) WHERE (wants_colony AND (handed_over_at IS NULL) AND (cancelled_at IS NULL));

CREATE INDEX order_unit_due ON public.order_unit USING btree (LEAST(promised_box_on, promised_colony_on), id) WHERE ((handed_over_at IS NULL) AND (cancelled_at IS NULL));

CREATE INDEX order_unit_no_day ON public.order_unit USING btree (id) WHERE ((handed_over_at IS NULL) AND (cancelled_at IS NULL) AND ((wants_box AND (NOT own_box) AND (promised_box_on IS NULL)) OR (wants_colony AND (promised_colony_on IS NULL))));

CREATE INDEX order_unit_open ON public.order_unit USING btree (promised_box_on, id) WHERE ((handed_over_at IS NULL) AND (cancelled_at IS NULL));

CREATE INDEX pack_drying ON public.pack USING btree (ready_on_p80, id) WHERE (finished_at IS NULL);

CREATE INDEX pack_reading_pack ON public.pack_reading USING btree (pack_id, read_on);

CREATE INDEX party_find ON public.party USING gin (find) WITH (fastupdate=off);

CREATE INDEX party_joined ON public.party USING btree (joined_into_id) WHERE (joined_into_id IS NOT NULL);

CREATE INDEX party_name ON public.party USING btree (lower((name)::text) text_pattern_ops, id);

CREATE INDEX party_page ON public.party USING btree (lower((name)::text), id) WHERE ((joined_into_id IS NULL) AND (put_away_at IS NULL));

CREATE INDEX payment_order ON public.payment USING btree (order_id);

CREATE INDEX payment_when ON public.payment USING btree (happened_at DESC, id DESC);

CREATE INDEX permit_ending ON public.permit USING btree (ends_on, id) WHERE (put_away_at IS NULL);

CREATE INDEX promise_change_unit ON public.promise_change USING btree (order_unit_id);

CREATE INDEX purchase_line_boards ON public.purchase_line USING btree (species_id) WHERE ((species_id IS NOT NULL) AND (received < quantity));

CREATE INDEX purchase_line_item ON public.purchase_line USING btree (item_id) WHERE ((item_id IS NOT NULL) AND (received < quantity));

CREATE INDEX purchase_line_purchase ON public.purchase_line USING btree (purchase_id, id);

CREATE INDEX purchase_to_come ON public.purchase USING btree (id) WHERE (received_at IS NULL);

CREATE INDEX quote_enquiry ON public.quote USING btree (enquiry_id);

CREATE INDEX quote_party ON public.quote USING btree (party_id);

CREATE INDEX quote_revises ON public.quote USING btree (revises_id) WHERE (revises_id IS NOT NULL);

CREATE INDEX quote_valid ON public.quote USING btree (valid_until) WHERE (issued_at IS NOT NULL);

CREATE INDEX quote_when ON public.quote USING btree (made_at DESC, id DESC);

CREATE INDEX run_day ON public.run USING btree (run_on, id);

CREATE INDEX run_stop_closed ON public.run_stop USING btree (closed_at) WHERE ((closed_at IS NOT NULL) AND (opened_at IS NULL));

CREATE INDEX run_stop_closed_by ON public.run_stop USING btree (closed_by_id) WHERE (closed_by_id IS NOT NULL);

CREATE INDEX run_stop_permit ON public.run_stop USING btree (permit_id) WHERE (permit_id IS NOT NULL);

CREATE INDEX run_stop_to_close ON public.run_stop USING btree (run_id) WHERE ((kind = 'close'::text) AND (done_at IS NULL));

CREATE INDEX run_stop_unit ON public.run_stop USING btree (order_unit_id) WHERE (order_unit_id IS NOT NULL);

CREATE INDEX sale_order_party ON public.sale_order USING btree (party_id);

CREATE INDEX sale_order_when ON public.sale_order USING btree (happened_at DESC, id DESC);

CREATE INDEX search_age ON public.search USING btree (asked_at);

CREATE INDEX search_of_account ON public.search USING btree (account_id, id);

CREATE INDEX sessions_expiry ON public.sessions USING btree (expiry);

CREATE INDEX sign_in_failure_lately ON public.sign_in_failure USING btree (subject, at);

CREATE INDEX site_party ON public.site USING btree (party_id);

CREATE INDEX stock_move_build ON public.stock_move USING btree (build_id) WHERE (build_id IS NOT NULL);

CREATE INDEX stock_move_item ON public.stock_move USING btree (item_id, id);

CREATE INDEX stock_move_lot ON public.stock_move USING btree (lot_id, id);

CREATE UNIQUE INDEX time_spell_one_open ON public.time_spell USING btree (account_id) WHERE (stopped_at IS NULL);

CREATE INDEX time_spell_operation ON public.time_spell USING btree (build_operation_id);

CREATE INDEX token_of_account ON public.token USING btree (account_id);

CREATE TRIGGER count_claim AFTER INSERT OR DELETE OR UPDATE ON public.claim FOR EACH ROW EXECUTE FUNCTION public.count_claim();

CREATE TRIGGER counts BEFORE INSERT OR UPDATE ON public.board_lot FOR EACH ROW EXECUTE FUNCTION public.keep_counts();

CREATE TRIGGER counts BEFORE INSERT OR UPDATE ON public.item FOR EACH ROW EXECUTE FUNCTION public.keep_counts();

CREATE TRIGGER counts BEFORE INSERT OR UPDATE ON public.shelf_lot FOR EACH ROW EXECUTE FUNCTION public.keep_counts();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.account FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.after_care FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.attachment FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.away FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.bee_species FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.board_lot FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.box FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.box_model FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.box_option FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.box_owner FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.box_place FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.box_report FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.box_section FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.build FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.build_operation FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.build_output FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.buyer_class FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.claim FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.climate FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.colony FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.colony_keeper FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.colony_owner FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.colony_parent FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.colony_place FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.colony_species FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.contact FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.cutting FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.dry_operation FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.enquiry FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.fetch_reminder FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.fit FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.fit_size FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.follow_up FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.guarantee_claim FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.handover FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.host_tree FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.host_tree_visit FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.housing FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.invoice FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.item FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.keeping FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.limited_thing FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.list_price FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.log FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.milling_pace FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.model_revision FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.movement FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.order_line FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.order_unit FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.pack FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.pack_content FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.pack_place FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.pack_reading FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.party FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.payment FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.permit FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.purchase FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.purchase_line FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.quote FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.quote_event FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.rain_month FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.run FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.run_stop FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.sale_order FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.second_hands FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.service FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.shelf_lot FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.site FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.split_plan FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.stand_in FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.standing_cost FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.supplier FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.tax_rate FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.tax_registration FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.timber_species FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.time_spell FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.token FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.weather_day FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.wording FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.work_week FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER history AFTER INSERT OR DELETE OR UPDATE ON public.workshop FOR EACH ROW EXECUTE FUNCTION public.note_history();

CREATE TRIGGER issued_stays BEFORE DELETE OR UPDATE ON public.quote FOR EACH ROW EXECUTE FUNCTION public.keep_issued_quote();

CREATE TRIGGER issued_stays BEFORE INSERT OR DELETE OR UPDATE ON public.quote_alternative FOR EACH ROW EXECUTE FUNCTION public.keep_issued_quote_parts();

CREATE TRIGGER issued_stays BEFORE INSERT OR DELETE OR UPDATE ON public.quote_line FOR EACH ROW EXECUTE FUNCTION public.keep_issued_quote_parts();

CREATE TRIGGER move_stock AFTER INSERT ON public.stock_move FOR EACH ROW EXECUTE FUNCTION public.move_stock();

CREATE TRIGGER next_version BEFORE UPDATE ON public.account FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.after_care FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.bee_species FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.board_lot FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.box FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.box_model FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.box_option FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.box_report FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.build FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.buyer_class FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.climate FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.colony FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.cutting FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.enquiry FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.fit FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.follow_up FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.guarantee_claim FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.handover FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.host_tree FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.item FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.keeping FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.limited_thing FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.log FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.milling_pace FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.order_line FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.order_unit FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.pack FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.party FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.permit FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.purchase FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.quote FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.run FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.run_stop FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.sale_order FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.second_hands FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.service FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.shelf_lot FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.site FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.split_plan FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.stand_in FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.standing_cost FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.supplier FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.timber_species FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.wording FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER next_version BEFORE UPDATE ON public.workshop FOR EACH ROW EXECUTE FUNCTION public.next_version();

CREATE TRIGGER no_ring BEFORE INSERT OR UPDATE ON public.colony_parent FOR EACH ROW EXECUTE FUNCTION public.refuse_ring();

CREATE TRIGGER ours BEFORE INSERT ON public.claim FOR EACH ROW EXECUTE FUNCTION public.claim_ours();

CREATE TRIGGER written_once BEFORE DELETE OR UPDATE ON public.board_cut FOR EACH ROW EXECUTE FUNCTION public.refuse_change();

CREATE TRIGGER written_once BEFORE DELETE OR UPDATE ON public.cut_part FOR EACH ROW EXECUTE FUNCTION public.refuse_change();

CREATE TRIGGER written_once BEFORE DELETE OR UPDATE ON public.document FOR EACH ROW EXECUTE FUNCTION public.refuse_change();

CREATE TRIGGER written_once BEFORE DELETE OR UPDATE ON public.dressing FOR EACH ROW EXECUTE FUNCTION public.refuse_change();

CREATE TRIGGER written_once BEFORE DELETE OR UPDATE ON public.dressing_lot FOR EACH ROW EXECUTE FUNCTION public.refuse_change();

CREATE TRIGGER written_once BEFORE DELETE OR UPDATE ON public.invoice FOR EACH ROW EXECUTE FUNCTION public.refuse_change();

CREATE TRIGGER written_once BEFORE DELETE OR UPDATE ON public.invoice_line FOR EACH ROW EXECUTE FUNCTION public.refuse_change();

CREATE TRIGGER written_once BEFORE DELETE OR UPDATE ON public.line_move FOR EACH ROW EXECUTE FUNCTION public.refuse_change();

CREATE TRIGGER written_once BEFORE DELETE OR UPDATE ON public.log_board FOR EACH ROW EXECUTE FUNCTION public.refuse_change();

CREATE TRIGGER written_once BEFORE DELETE OR UPDATE ON public.model_revision FOR EACH ROW EXECUTE FUNCTION public.refuse_change();

CREATE TRIGGER written_once BEFORE DELETE OR UPDATE ON public.movement FOR EACH ROW EXECUTE FUNCTION public.movement_written_once();

CREATE TRIGGER written_once BEFORE DELETE OR UPDATE ON public.payment FOR EACH ROW EXECUTE FUNCTION public.refuse_change();

CREATE TRIGGER written_once BEFORE DELETE OR UPDATE ON public.quote_event FOR EACH ROW EXECUTE FUNCTION public.refuse_change();

CREATE TRIGGER written_once BEFORE DELETE OR UPDATE ON public.stock_move FOR EACH ROW EXECUTE FUNCTION public.refuse_change();

ALTER TABLE ONLY public.bench_plan_step
    ADD CONSTRAINT bench_plan_step_build_id_fkey FOREIGN KEY (build_id) REFERENCES public.build(id);

ALTER TABLE ONLY public.bench_plan_step
    ADD CONSTRAINT bench_plan_step_build_operation_id_fkey FOREIGN KEY (build_operation_id) REFERENCES public.build_operation(id);

ALTER TABLE ONLY public.bench_plan_step
    ADD CONSTRAINT bench_plan_step_plan_id_fkey FOREIGN KEY (plan_id) REFERENCES public.bench_plan(id);

ALTER TABLE ONLY public.board_cut
    ADD CONSTRAINT board_cut_build_id_fkey FOREIGN KEY (build_id) REFERENCES public.build(id);

ALTER TABLE ONLY public.board_cut
    ADD CONSTRAINT board_cut_lot_id_fkey FOREIGN KEY (lot_id) REFERENCES public.board_lot(id);

ALTER TABLE ONLY public.board_cut
    ADD CONSTRAINT board_cut_plan_id_fkey FOREIGN KEY (plan_id) REFERENCES public.cutting_plan(id);

ALTER TABLE ONLY public.board_lot
    ADD CONSTRAINT board_lot_board_size_id_fkey FOREIGN KEY (board_size_id) REFERENCES public.board_size(id);

ALTER TABLE ONLY public.board_lot
    ADD CONSTRAINT board_lot_pack_id_fkey FOREIGN KEY (pack_id) REFERENCES public.pack(id);

ALTER TABLE ONLY public.board_lot
    ADD CONSTRAINT board_lot_species_id_fkey FOREIGN KEY (species_id) REFERENCES public.timber_species(id);

ALTER TABLE ONLY public.box_asked
    ADD CONSTRAINT box_asked_box_id_fkey FOREIGN KEY (box_id) REFERENCES public.box(id);

ALTER TABLE ONLY public.box
    ADD CONSTRAINT box_build_id_fkey FOREIGN KEY (build_id) REFERENCES public.build(id);

ALTER TABLE ONLY public.box
    ADD CONSTRAINT box_model_revision_id_fkey FOREIGN KEY (model_revision_id) REFERENCES public.model_revision(id);

ALTER TABLE ONLY public.box_option
    ADD CONSTRAINT box_option_model_id_fkey FOREIGN KEY (model_id) REFERENCES public.box_model(id);

ALTER TABLE ONLY public.box_owner
    ADD CONSTRAINT box_owner_box_id_fkey FOREIGN KEY (box_id) REFERENCES public.box(id);

ALTER TABLE ONLY public.box_owner
    ADD CONSTRAINT box_owner_party_id_fkey FOREIGN KEY (party_id) REFERENCES public.party(id);

ALTER TABLE ONLY public.box_place
    ADD CONSTRAINT box_place_box_id_fkey FOREIGN KEY (box_id) REFERENCES public.box(id);

ALTER TABLE ONLY public.box_place
    ADD CONSTRAINT box_place_site_id_fkey FOREIGN KEY (site_id) REFERENCES public.site(id);

ALTER TABLE ONLY public.box_report
    ADD CONSTRAINT box_report_box_id_fkey FOREIGN KEY (box_id) REFERENCES public.box(id);

ALTER TABLE ONLY public.box_section
    ADD CONSTRAINT box_section_box_id_fkey FOREIGN KEY (box_id) REFERENCES public.box(id);

ALTER TABLE ONLY public.box_section
    ADD CONSTRAINT box_section_came_from_id_fkey FOREIGN KEY (came_from_id) REFERENCES public.box_section(id);

ALTER TABLE ONLY public.box
    ADD CONSTRAINT box_timber_species_id_fkey FOREIGN KEY (timber_species_id) REFERENCES public.timber_species(id);

ALTER TABLE ONLY public.build
    ADD CONSTRAINT build_model_revision_id_fkey FOREIGN KEY (model_revision_id) REFERENCES public.model_revision(id);

ALTER TABLE ONLY public.build_operation
    ADD CONSTRAINT build_operation_build_id_fkey FOREIGN KEY (build_id) REFERENCES public.build(id);

ALTER TABLE ONLY public.build_output
    ADD CONSTRAINT build_output_box FOREIGN KEY (box_id) REFERENCES public.box(id);

ALTER TABLE ONLY public.build_output
    ADD CONSTRAINT build_output_build_id_fkey FOREIGN KEY (build_id) REFERENCES public.build(id);

ALTER TABLE ONLY public.build_output
    ADD CONSTRAINT build_output_order_unit_id_fkey FOREIGN KEY (order_unit_id) REFERENCES public.order_unit(id);

ALTER TABLE ONLY public.build
    ADD CONSTRAINT build_timber_species_id_fkey FOREIGN KEY (timber_species_id) REFERENCES public.timber_species(id);

ALTER TABLE ONLY public.claim
    ADD CONSTRAINT claim_box_id_fkey FOREIGN KEY (box_id) REFERENCES public.box(id);

ALTER TABLE ONLY public.claim
    ADD CONSTRAINT claim_build_id_fkey FOREIGN KEY (build_id) REFERENCES public.build(id);

ALTER TABLE ONLY public.claim
    ADD CONSTRAINT claim_colony_id_fkey FOREIGN KEY (colony_id) REFERENCES public.colony(id);

ALTER TABLE ONLY public.claim
    ADD CONSTRAINT claim_item_id_fkey FOREIGN KEY (item_id) REFERENCES public.item(id);

ALTER TABLE ONLY public.claim
    ADD CONSTRAINT claim_lot_id_fkey FOREIGN KEY (lot_id) REFERENCES public.board_lot(id);

ALTER TABLE ONLY public.claim
    ADD CONSTRAINT claim_order_unit_id_fkey FOREIGN KEY (order_unit_id) REFERENCES public.order_unit(id);

ALTER TABLE ONLY public.claim
    ADD CONSTRAINT claim_pack_id_fkey FOREIGN KEY (pack_id) REFERENCES public.pack(id);

ALTER TABLE ONLY public.claim
    ADD CONSTRAINT claim_shelf_lot_id_fkey FOREIGN KEY (shelf_lot_id) REFERENCES public.shelf_lot(id);

ALTER TABLE ONLY public.colony_event
    ADD CONSTRAINT colony_event_colony_id_fkey FOREIGN KEY (colony_id) REFERENCES public.colony(id);

ALTER TABLE ONLY public.colony
    ADD CONSTRAINT colony_host_tree_id_fkey FOREIGN KEY (host_tree_id) REFERENCES public.host_tree(id);

ALTER TABLE ONLY public.colony_keeper
    ADD CONSTRAINT colony_keeper_colony_id_fkey FOREIGN KEY (colony_id) REFERENCES public.colony(id);

ALTER TABLE ONLY public.colony_keeper
    ADD CONSTRAINT colony_keeper_party_id_fkey FOREIGN KEY (party_id) REFERENCES public.party(id);

ALTER TABLE ONLY public.colony_owner
    ADD CONSTRAINT colony_owner_colony_id_fkey FOREIGN KEY (colony_id) REFERENCES public.colony(id);

ALTER TABLE ONLY public.colony_owner
    ADD CONSTRAINT colony_owner_party_id_fkey FOREIGN KEY (party_id) REFERENCES public.party(id);

ALTER TABLE ONLY public.colony_parent
    ADD CONSTRAINT colony_parent_colony_id_fkey FOREIGN KEY (colony_id) REFERENCES public.colony(id);

ALTER TABLE ONLY public.colony_parent
    ADD CONSTRAINT colony_parent_parent_id_fkey FOREIGN KEY (parent_id) REFERENCES public.colony(id);

ALTER TABLE ONLY public.colony
    ADD CONSTRAINT colony_permit_id_fkey FOREIGN KEY (permit_id) REFERENCES public.permit(id);

ALTER TABLE ONLY public.colony_place
    ADD CONSTRAINT colony_place_colony_id_fkey FOREIGN KEY (colony_id) REFERENCES public.colony(id);

ALTER TABLE ONLY public.colony_place
    ADD CONSTRAINT colony_place_site_id_fkey FOREIGN KEY (site_id) REFERENCES public.site(id);

ALTER TABLE ONLY public.colony_species
    ADD CONSTRAINT colony_species_bee_species_id_fkey FOREIGN KEY (bee_species_id) REFERENCES public.bee_species(id);

ALTER TABLE ONLY public.colony_species
    ADD CONSTRAINT colony_species_colony_id_fkey FOREIGN KEY (colony_id) REFERENCES public.colony(id);

ALTER TABLE ONLY public.contact
    ADD CONSTRAINT contact_party_id_fkey FOREIGN KEY (party_id) REFERENCES public.party(id);

ALTER TABLE ONLY public.cut_part
    ADD CONSTRAINT cut_part_board_cut_id_fkey FOREIGN KEY (board_cut_id) REFERENCES public.board_cut(id);

ALTER TABLE ONLY public.cut_part
    ADD CONSTRAINT cut_part_build_id_fkey FOREIGN KEY (build_id) REFERENCES public.build(id);

ALTER TABLE ONLY public.cutting_build
    ADD CONSTRAINT cutting_build_build_id_fkey FOREIGN KEY (build_id) REFERENCES public.build(id);

ALTER TABLE ONLY public.cutting_build
    ADD CONSTRAINT cutting_build_cutting_id_fkey FOREIGN KEY (cutting_id) REFERENCES public.cutting(id);

ALTER TABLE ONLY public.cutting_plan
    ADD CONSTRAINT cutting_plan_board_size_id_fkey FOREIGN KEY (board_size_id) REFERENCES public.board_size(id);

ALTER TABLE ONLY public.cutting_plan
    ADD CONSTRAINT cutting_plan_build_id_fkey FOREIGN KEY (build_id) REFERENCES public.build(id);

ALTER TABLE ONLY public.cutting_plan
    ADD CONSTRAINT cutting_plan_cutting_id_fkey FOREIGN KEY (cutting_id) REFERENCES public.cutting(id);

ALTER TABLE ONLY public.dressing_lot
    ADD CONSTRAINT dressing_lot_dressing_id_fkey FOREIGN KEY (dressing_id) REFERENCES public.dressing(id);

ALTER TABLE ONLY public.dressing
    ADD CONSTRAINT dressing_lot_id_fkey FOREIGN KEY (lot_id) REFERENCES public.board_lot(id);

ALTER TABLE ONLY public.dressing_lot
    ADD CONSTRAINT dressing_lot_lot_id_fkey FOREIGN KEY (lot_id) REFERENCES public.board_lot(id);

ALTER TABLE ONLY public.dressing
    ADD CONSTRAINT dressing_pack_id_fkey FOREIGN KEY (pack_id) REFERENCES public.pack(id);

ALTER TABLE ONLY public.dry_operation
    ADD CONSTRAINT dry_operation_model_id_fkey FOREIGN KEY (model_id) REFERENCES public.box_model(id);

ALTER TABLE ONLY public.enquiry
    ADD CONSTRAINT enquiry_party_id_fkey FOREIGN KEY (party_id) REFERENCES public.party(id);

ALTER TABLE ONLY public.fetch_reminder
    ADD CONSTRAINT fetch_reminder_order_id_fkey FOREIGN KEY (order_id) REFERENCES public.sale_order(id);

ALTER TABLE ONLY public.fit_size
    ADD CONSTRAINT fit_size_fit_id_fkey FOREIGN KEY (fit_id) REFERENCES public.fit(id);

ALTER TABLE ONLY public.follow_up
    ADD CONSTRAINT follow_up_handover_id_fkey FOREIGN KEY (handover_id) REFERENCES public.handover(id);

ALTER TABLE ONLY public.guarantee_claim
    ADD CONSTRAINT guarantee_claim_handover_id_fkey FOREIGN KEY (handover_id) REFERENCES public.handover(id);

ALTER TABLE ONLY public.handover
    ADD CONSTRAINT handover_box_id_fkey FOREIGN KEY (box_id) REFERENCES public.box(id);

ALTER TABLE ONLY public.handover
    ADD CONSTRAINT handover_colony_id_fkey FOREIGN KEY (colony_id) REFERENCES public.colony(id);

ALTER TABLE ONLY public.handover
    ADD CONSTRAINT handover_document_id_fkey FOREIGN KEY (document_id) REFERENCES public.document(id);

ALTER TABLE ONLY public.handover
    ADD CONSTRAINT handover_order_unit_id_fkey FOREIGN KEY (order_unit_id) REFERENCES public.order_unit(id);

ALTER TABLE ONLY public.handover
    ADD CONSTRAINT handover_run_stop_id_fkey FOREIGN KEY (run_stop_id) REFERENCES public.run_stop(id);

ALTER TABLE ONLY public.handover
    ADD CONSTRAINT handover_site_id_fkey FOREIGN KEY (site_id) REFERENCES public.site(id);

ALTER TABLE ONLY public.host_tree
    ADD CONSTRAINT host_tree_bee_species_id_fkey FOREIGN KEY (bee_species_id) REFERENCES public.bee_species(id);

ALTER TABLE ONLY public.host_tree
    ADD CONSTRAINT host_tree_box_id_fkey FOREIGN KEY (box_id) REFERENCES public.box(id);

ALTER TABLE ONLY public.host_tree
    ADD CONSTRAINT host_tree_colony_id_fkey FOREIGN KEY (colony_id) REFERENCES public.colony(id);

ALTER TABLE ONLY public.host_tree
    ADD CONSTRAINT host_tree_owner_party_id_fkey FOREIGN KEY (owner_party_id) REFERENCES public.party(id);

ALTER TABLE ONLY public.host_tree
    ADD CONSTRAINT host_tree_permit_id_fkey FOREIGN KEY (permit_id) REFERENCES public.permit(id);

ALTER TABLE ONLY public.host_tree
    ADD CONSTRAINT host_tree_site_id_fkey FOREIGN KEY (site_id) REFERENCES public.site(id);

ALTER TABLE ONLY public.host_tree_visit
    ADD CONSTRAINT host_tree_visit_host_tree_id_fkey FOREIGN KEY (host_tree_id) REFERENCES public.host_tree(id);

ALTER TABLE ONLY public.housing
    ADD CONSTRAINT housing_box_id_fkey FOREIGN KEY (box_id) REFERENCES public.box(id);

ALTER TABLE ONLY public.housing
    ADD CONSTRAINT housing_colony_id_fkey FOREIGN KEY (colony_id) REFERENCES public.colony(id);

ALTER TABLE ONLY public.housing
    ADD CONSTRAINT housing_host_tree_id_fkey FOREIGN KEY (host_tree_id) REFERENCES public.host_tree(id);

ALTER TABLE ONLY public.invoice
    ADD CONSTRAINT invoice_adjusts_id_fkey FOREIGN KEY (adjusts_id) REFERENCES public.invoice(id);

ALTER TABLE ONLY public.invoice
    ADD CONSTRAINT invoice_document_id_fkey FOREIGN KEY (document_id) REFERENCES public.document(id);

ALTER TABLE ONLY public.invoice_line
    ADD CONSTRAINT invoice_line_adjusts_line_id_fkey FOREIGN KEY (adjusts_line_id) REFERENCES public.invoice_line(id);

ALTER TABLE ONLY public.invoice_line
    ADD CONSTRAINT invoice_line_deducts_id_fkey FOREIGN KEY (deducts_id) REFERENCES public.invoice(id);

ALTER TABLE ONLY public.invoice_line
    ADD CONSTRAINT invoice_line_invoice_id_fkey FOREIGN KEY (invoice_id) REFERENCES public.invoice(id);

ALTER TABLE ONLY public.invoice_line
    ADD CONSTRAINT invoice_line_order_unit_id_fkey FOREIGN KEY (order_unit_id) REFERENCES public.order_unit(id);

ALTER TABLE ONLY public.invoice
    ADD CONSTRAINT invoice_order_id_fkey FOREIGN KEY (order_id) REFERENCES public.sale_order(id);

ALTER TABLE ONLY public.invoice
    ADD CONSTRAINT invoice_party_id_fkey FOREIGN KEY (party_id) REFERENCES public.party(id);

ALTER TABLE ONLY public.item
    ADD CONSTRAINT item_supplier_id_fkey FOREIGN KEY (supplier_id) REFERENCES public.supplier(id);

ALTER TABLE ONLY public.keeping
    ADD CONSTRAINT keeping_box_id_fkey FOREIGN KEY (box_id) REFERENCES public.box(id);

ALTER TABLE ONLY public.keeping
    ADD CONSTRAINT keeping_colony_id_fkey FOREIGN KEY (colony_id) REFERENCES public.colony(id);

ALTER TABLE ONLY public.keeping
    ADD CONSTRAINT keeping_party_id_fkey FOREIGN KEY (party_id) REFERENCES public.party(id);

ALTER TABLE ONLY public.line_move
    ADD CONSTRAINT line_move_before_unit_id_fkey FOREIGN KEY (before_unit_id) REFERENCES public.order_unit(id);

ALTER TABLE ONLY public.line_move
    ADD CONSTRAINT line_move_order_unit_id_fkey FOREIGN KEY (order_unit_id) REFERENCES public.order_unit(id);

ALTER TABLE ONLY public.log_board
    ADD CONSTRAINT log_board_board_size_id_fkey FOREIGN KEY (board_size_id) REFERENCES public.board_size(id);

ALTER TABLE ONLY public.log_board
    ADD CONSTRAINT log_board_log_id_fkey FOREIGN KEY (log_id) REFERENCES public.log(id);

ALTER TABLE ONLY public.log_board
    ADD CONSTRAINT log_board_pack_id_fkey FOREIGN KEY (pack_id) REFERENCES public.pack(id);

ALTER TABLE ONLY public.log
    ADD CONSTRAINT log_species_id_fkey FOREIGN KEY (species_id) REFERENCES public.timber_species(id);

ALTER TABLE ONLY public.log
    ADD CONSTRAINT log_supplier_id_fkey FOREIGN KEY (supplier_id) REFERENCES public.supplier(id);

ALTER TABLE ONLY public.milling_pace
    ADD CONSTRAINT milling_pace_model_id_fkey FOREIGN KEY (model_id) REFERENCES public.box_model(id);

ALTER TABLE ONLY public.milling_pace
    ADD CONSTRAINT milling_pace_species_id_fkey FOREIGN KEY (species_id) REFERENCES public.timber_species(id);

ALTER TABLE ONLY public.model_revision
    ADD CONSTRAINT model_revision_fit_id_fkey FOREIGN KEY (fit_id) REFERENCES public.fit(id);

ALTER TABLE ONLY public.model_revision
    ADD CONSTRAINT model_revision_model_id_fkey FOREIGN KEY (model_id) REFERENCES public.box_model(id);

ALTER TABLE ONLY public.movement
    ADD CONSTRAINT movement_colony_id_fkey FOREIGN KEY (colony_id) REFERENCES public.colony(id);

ALTER TABLE ONLY public.movement
    ADD CONSTRAINT movement_from_site_id_fkey FOREIGN KEY (from_site_id) REFERENCES public.site(id);

ALTER TABLE ONLY public.movement
    ADD CONSTRAINT movement_permit_id_fkey FOREIGN KEY (permit_id) REFERENCES public.permit(id);

ALTER TABLE ONLY public.movement
    ADD CONSTRAINT movement_to_party_id_fkey FOREIGN KEY (to_party_id) REFERENCES public.party(id);

ALTER TABLE ONLY public.movement
    ADD CONSTRAINT movement_to_site_id_fkey FOREIGN KEY (to_site_id) REFERENCES public.site(id);

ALTER TABLE ONLY public.order_line
    ADD CONSTRAINT order_line_bees FOREIGN KEY (bee_species_id) REFERENCES public.bee_species(id);

ALTER TABLE ONLY public.order_line
    ADD CONSTRAINT order_line_item FOREIGN KEY (item_id) REFERENCES public.item(id);

ALTER TABLE ONLY public.order_line
    ADD CONSTRAINT order_line_model FOREIGN KEY (model_revision_id) REFERENCES public.model_revision(id);

ALTER TABLE ONLY public.order_line
    ADD CONSTRAINT order_line_order_id_fkey FOREIGN KEY (order_id) REFERENCES public.sale_order(id);

ALTER TABLE ONLY public.order_line
    ADD CONSTRAINT order_line_quote_line_id_fkey FOREIGN KEY (quote_line_id) REFERENCES public.quote_line(id);

ALTER TABLE ONLY public.order_line
    ADD CONSTRAINT order_line_service_id_fkey FOREIGN KEY (service_id) REFERENCES public.service(id);

ALTER TABLE ONLY public.order_line
    ADD CONSTRAINT order_line_timber FOREIGN KEY (timber_species_id) REFERENCES public.timber_species(id);

ALTER TABLE ONLY public.order_unit
    ADD CONSTRAINT order_unit_order_line_id_fkey FOREIGN KEY (order_line_id) REFERENCES public.order_line(id);

ALTER TABLE ONLY public.order_unit
    ADD CONSTRAINT order_unit_site_id_fkey FOREIGN KEY (site_id) REFERENCES public.site(id);

ALTER TABLE ONLY public.pack
    ADD CONSTRAINT pack_board_size_id_fkey FOREIGN KEY (board_size_id) REFERENCES public.board_size(id);

ALTER TABLE ONLY public.pack
    ADD CONSTRAINT pack_climate_id_fkey FOREIGN KEY (climate_id) REFERENCES public.climate(id);

ALTER TABLE ONLY public.pack_content
    ADD CONSTRAINT pack_content_pack_id_fkey FOREIGN KEY (pack_id) REFERENCES public.pack(id);

ALTER TABLE ONLY public.pack
    ADD CONSTRAINT pack_dresses_to_id_fkey FOREIGN KEY (dresses_to_id) REFERENCES public.board_size(id);

ALTER TABLE ONLY public.pack
    ADD CONSTRAINT pack_log_id_fkey FOREIGN KEY (log_id) REFERENCES public.log(id);

ALTER TABLE ONLY public.pack_place
    ADD CONSTRAINT pack_place_climate_id_fkey FOREIGN KEY (climate_id) REFERENCES public.climate(id);

ALTER TABLE ONLY public.pack_place
    ADD CONSTRAINT pack_place_pack_id_fkey FOREIGN KEY (pack_id) REFERENCES public.pack(id);

ALTER TABLE ONLY public.pack_reading
    ADD CONSTRAINT pack_reading_pack_id_fkey FOREIGN KEY (pack_id) REFERENCES public.pack(id);

ALTER TABLE ONLY public.pack
    ADD CONSTRAINT pack_species_id_fkey FOREIGN KEY (species_id) REFERENCES public.timber_species(id);

ALTER TABLE ONLY public.party
    ADD CONSTRAINT party_buyer_class_id_fkey FOREIGN KEY (buyer_class_id) REFERENCES public.buyer_class(id);

ALTER TABLE ONLY public.party
    ADD CONSTRAINT party_joined_into_id_fkey FOREIGN KEY (joined_into_id) REFERENCES public.party(id);

ALTER TABLE ONLY public.payment
    ADD CONSTRAINT payment_document_id_fkey FOREIGN KEY (document_id) REFERENCES public.document(id);

ALTER TABLE ONLY public.payment
    ADD CONSTRAINT payment_order_id_fkey FOREIGN KEY (order_id) REFERENCES public.sale_order(id);

ALTER TABLE ONLY public.payment
    ADD CONSTRAINT payment_other_order_id_fkey FOREIGN KEY (other_order_id) REFERENCES public.sale_order(id);

ALTER TABLE ONLY public.promise_change
    ADD CONSTRAINT promise_change_order_unit_id_fkey FOREIGN KEY (order_unit_id) REFERENCES public.order_unit(id);

ALTER TABLE ONLY public.purchase_line
    ADD CONSTRAINT purchase_line_item_id_fkey FOREIGN KEY (item_id) REFERENCES public.item(id);

ALTER TABLE ONLY public.purchase_line
    ADD CONSTRAINT purchase_line_lot_id_fkey FOREIGN KEY (lot_id) REFERENCES public.board_lot(id);

ALTER TABLE ONLY public.purchase_line
    ADD CONSTRAINT purchase_line_purchase_id_fkey FOREIGN KEY (purchase_id) REFERENCES public.purchase(id);

ALTER TABLE ONLY public.purchase_line
    ADD CONSTRAINT purchase_line_species_id_fkey FOREIGN KEY (species_id) REFERENCES public.timber_species(id);

ALTER TABLE ONLY public.purchase
    ADD CONSTRAINT purchase_supplier_id_fkey FOREIGN KEY (supplier_id) REFERENCES public.supplier(id);

ALTER TABLE ONLY public.quote_alternative
    ADD CONSTRAINT quote_alternative_quote_id_fkey FOREIGN KEY (quote_id) REFERENCES public.quote(id) ON DELETE CASCADE;

ALTER TABLE ONLY public.quote
    ADD CONSTRAINT quote_document_id_fkey FOREIGN KEY (document_id) REFERENCES public.document(id);

ALTER TABLE ONLY public.quote
    ADD CONSTRAINT quote_enquiry_id_fkey FOREIGN KEY (enquiry_id) REFERENCES public.enquiry(id);

ALTER TABLE ONLY public.quote_event
    ADD CONSTRAINT quote_event_alternative_id_fkey FOREIGN KEY (alternative_id) REFERENCES public.quote_alternative(id);

ALTER TABLE ONLY public.quote_event
    ADD CONSTRAINT quote_event_quote_id_fkey FOREIGN KEY (quote_id) REFERENCES public.quote(id);

ALTER TABLE ONLY public.quote_line
    ADD CONSTRAINT quote_line_alternative_id_fkey FOREIGN KEY (alternative_id) REFERENCES public.quote_alternative(id) ON DELETE CASCADE;

ALTER TABLE ONLY public.quote_line
    ADD CONSTRAINT quote_line_bees FOREIGN KEY (bee_species_id) REFERENCES public.bee_species(id);

ALTER TABLE ONLY public.quote_line
    ADD CONSTRAINT quote_line_item FOREIGN KEY (item_id) REFERENCES public.item(id);

ALTER TABLE ONLY public.quote_line
    ADD CONSTRAINT quote_line_model FOREIGN KEY (model_revision_id) REFERENCES public.model_revision(id);

ALTER TABLE ONLY public.quote_line
    ADD CONSTRAINT quote_line_service_id_fkey FOREIGN KEY (service_id) REFERENCES public.service(id);

ALTER TABLE ONLY public.quote_line
    ADD CONSTRAINT quote_line_timber FOREIGN KEY (timber_species_id) REFERENCES public.timber_species(id);

ALTER TABLE ONLY public.quote
    ADD CONSTRAINT quote_party_id_fkey FOREIGN KEY (party_id) REFERENCES public.party(id);

ALTER TABLE ONLY public.quote
    ADD CONSTRAINT quote_revises_id_fkey FOREIGN KEY (revises_id) REFERENCES public.quote(id);

ALTER TABLE ONLY public.quote
    ADD CONSTRAINT quote_site_id_fkey FOREIGN KEY (site_id) REFERENCES public.site(id);

ALTER TABLE ONLY public.quote
    ADD CONSTRAINT quote_varies_order FOREIGN KEY (varies_order_id) REFERENCES public.sale_order(id);

ALTER TABLE ONLY public.ring_call
    ADD CONSTRAINT ring_call_away_id_fkey FOREIGN KEY (away_id) REFERENCES public.away(id) ON DELETE CASCADE;

ALTER TABLE ONLY public.run_stop
    ADD CONSTRAINT run_stop_closed_by_id_fkey FOREIGN KEY (closed_by_id) REFERENCES public.run_stop(id);

ALTER TABLE ONLY public.run_stop
    ADD CONSTRAINT run_stop_colony_id_fkey FOREIGN KEY (colony_id) REFERENCES public.colony(id);

ALTER TABLE ONLY public.run_stop
    ADD CONSTRAINT run_stop_host_tree_id_fkey FOREIGN KEY (host_tree_id) REFERENCES public.host_tree(id);

ALTER TABLE ONLY public.run_stop
    ADD CONSTRAINT run_stop_order_unit_id_fkey FOREIGN KEY (order_unit_id) REFERENCES public.order_unit(id);

ALTER TABLE ONLY public.run_stop
    ADD CONSTRAINT run_stop_permit_id_fkey FOREIGN KEY (permit_id) REFERENCES public.permit(id);

ALTER TABLE ONLY public.run_stop
    ADD CONSTRAINT run_stop_run_id_fkey FOREIGN KEY (run_id) REFERENCES public.run(id);

ALTER TABLE ONLY public.run_stop
    ADD CONSTRAINT run_stop_site_id_fkey FOREIGN KEY (site_id) REFERENCES public.site(id);

ALTER TABLE ONLY public.sale_order
    ADD CONSTRAINT sale_order_party_id_fkey FOREIGN KEY (party_id) REFERENCES public.party(id);

ALTER TABLE ONLY public.sale_order
    ADD CONSTRAINT sale_order_quote_id_fkey FOREIGN KEY (quote_id) REFERENCES public.quote(id);

ALTER TABLE ONLY public.sale_order
    ADD CONSTRAINT sale_order_site_id_fkey FOREIGN KEY (site_id) REFERENCES public.site(id);

ALTER TABLE ONLY public.search
    ADD CONSTRAINT search_account_id_fkey FOREIGN KEY (account_id) REFERENCES public.account(id);

ALTER TABLE ONLY public.shelf_lot
    ADD CONSTRAINT shelf_lot_model_revision_id_fkey FOREIGN KEY (model_revision_id) REFERENCES public.model_revision(id);

ALTER TABLE ONLY public.shelf_lot
    ADD CONSTRAINT shelf_lot_timber_species_id_fkey FOREIGN KEY (timber_species_id) REFERENCES public.timber_species(id);

ALTER TABLE ONLY public.site
    ADD CONSTRAINT site_party_id_fkey FOREIGN KEY (party_id) REFERENCES public.party(id);

ALTER TABLE ONLY public.split_plan
    ADD CONSTRAINT split_plan_child_id_fkey FOREIGN KEY (child_id) REFERENCES public.colony(id);

ALTER TABLE ONLY public.split_plan
    ADD CONSTRAINT split_plan_parent_id_fkey FOREIGN KEY (parent_id) REFERENCES public.colony(id);

ALTER TABLE ONLY public.stock_move
    ADD CONSTRAINT stock_move_build FOREIGN KEY (build_id) REFERENCES public.build(id);

ALTER TABLE ONLY public.stock_move
    ADD CONSTRAINT stock_move_item_id_fkey FOREIGN KEY (item_id) REFERENCES public.item(id);

ALTER TABLE ONLY public.stock_move
    ADD CONSTRAINT stock_move_lot_id_fkey FOREIGN KEY (lot_id) REFERENCES public.board_lot(id);

ALTER TABLE ONLY public.stock_move
    ADD CONSTRAINT stock_move_order_unit_id_fkey FOREIGN KEY (order_unit_id) REFERENCES public.order_unit(id);

ALTER TABLE ONLY public.stock_move
    ADD CONSTRAINT stock_move_pack_id_fkey FOREIGN KEY (pack_id) REFERENCES public.pack(id);

ALTER TABLE ONLY public.stock_move
    ADD CONSTRAINT stock_move_shelf_lot_id_fkey FOREIGN KEY (shelf_lot_id) REFERENCES public.shelf_lot(id);

ALTER TABLE ONLY public.time_spell
    ADD CONSTRAINT time_spell_account_id_fkey FOREIGN KEY (account_id) REFERENCES public.account(id);

ALTER TABLE ONLY public.time_spell
    ADD CONSTRAINT time_spell_build_operation_id_fkey FOREIGN KEY (build_operation_id) REFERENCES public.build_operation(id);

ALTER TABLE ONLY public.token
    ADD CONSTRAINT token_account_id_fkey FOREIGN KEY (account_id) REFERENCES public.account(id);

ALTER TABLE ONLY public.wording_trouble
    ADD CONSTRAINT wording_trouble_name_fkey FOREIGN KEY (name) REFERENCES public.wording(name) ON DELETE CASCADE;

