-- Box models, builds and their work, boxes for life, and the plan of the bench.

CREATE TABLE fit (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    name words NOT NULL CONSTRAINT fit_name_once UNIQUE,
    notes prose NOT NULL DEFAULT ''
);
CREATE TABLE fit_size (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    fit_id bigint NOT NULL REFERENCES fit,
    name words NOT NULL,
    nominal_mm numeric(8,1) NOT NULL,
    low_mm numeric(8,1) NOT NULL,
    high_mm numeric(8,1) NOT NULL,
    CONSTRAINT fit_size_once UNIQUE (fit_id, name),
    CONSTRAINT fit_size_limits CHECK (low_mm > 0 AND low_mm <= nominal_mm AND nominal_mm <= high_mm)
);

CREATE TABLE box_model (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    code text NOT NULL CONSTRAINT box_model_code_once UNIQUE,
    name words NOT NULL,
    put_away_at timestamptz
);
CREATE TABLE model_revision (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    model_id bigint NOT NULL REFERENCES box_model,
    revision int NOT NULL CONSTRAINT model_revision_number CHECK (revision >= 1),
    body jsonb NOT NULL,
    fit_id bigint REFERENCES fit,
    serial_section words NOT NULL DEFAULT '',
    reason words NOT NULL DEFAULT '',
    made_at timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT model_revision_once UNIQUE (model_id, revision)
);
CREATE TRIGGER written_once BEFORE UPDATE OR DELETE ON model_revision FOR EACH ROW EXECUTE FUNCTION refuse_change();

CREATE TABLE box_option (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    code text NOT NULL CONSTRAINT box_option_code_once UNIQUE,
    name words NOT NULL,
    kind text NOT NULL CONSTRAINT box_option_kind CHECK (kind IN ('section', 'mount', 'finish', 'other')),
    model_id bigint REFERENCES box_model,
    section words NOT NULL DEFAULT '',
    fittings jsonb NOT NULL DEFAULT '[]',
    operations jsonb NOT NULL DEFAULT '[]',
    cure_days int NOT NULL DEFAULT 0 CONSTRAINT box_option_cure CHECK (cure_days BETWEEN 0 AND 365),
    put_away_at timestamptz
);

CREATE TABLE build (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    number text NOT NULL CONSTRAINT build_number_once UNIQUE,
    model_revision_id bigint NOT NULL REFERENCES model_revision,
    makes text NOT NULL DEFAULT 'box' CONSTRAINT build_makes CHECK (makes IN ('box', 'section', 'part')),
    piece words NOT NULL DEFAULT '',
    quantity int NOT NULL CONSTRAINT build_quantity CHECK (quantity BETWEEN 1 AND 1000),
    timber_species_id bigint REFERENCES timber_species,
    options jsonb NOT NULL DEFAULT '[]',
    parts jsonb NOT NULL DEFAULT '[]',
    fittings jsonb NOT NULL DEFAULT '[]',
    due_on date,
    not_before date,
    held_to date,
    made_at timestamptz NOT NULL DEFAULT now(),
    started_at timestamptz,
    finished_at timestamptz,
    cancelled_at timestamptz,
    notes prose NOT NULL DEFAULT '',
    CONSTRAINT build_piece CHECK ((makes = 'box') = (piece = '')),
    CONSTRAINT build_one_end CHECK (finished_at IS NULL OR cancelled_at IS NULL)
);
CREATE INDEX build_open ON build (due_on, id) WHERE finished_at IS NULL AND cancelled_at IS NULL;
ALTER TABLE stock_move ADD CONSTRAINT stock_move_build FOREIGN KEY (build_id) REFERENCES build;

CREATE TABLE build_output (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    build_id bigint NOT NULL REFERENCES build,
    n int NOT NULL CONSTRAINT build_output_n CHECK (n >= 1),
    order_unit_id bigint REFERENCES order_unit,
    box_id bigint,
    spoiled_at timestamptz,
    CONSTRAINT build_output_once UNIQUE (build_id, n)
);
CREATE INDEX build_output_unit ON build_output (order_unit_id) WHERE order_unit_id IS NOT NULL;

CREATE TABLE build_operation (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    build_id bigint NOT NULL REFERENCES build,
    position int NOT NULL CONSTRAINT build_operation_position CHECK (position >= 1),
    name words NOT NULL,
    setup_min int NOT NULL DEFAULT 0 CONSTRAINT build_operation_setup CHECK (setup_min >= 0),
    piece_min numeric(8,1) NOT NULL DEFAULT 0 CONSTRAINT build_operation_piece CHECK (piece_min >= 0),
    wait_min int NOT NULL DEFAULT 0 CONSTRAINT build_operation_wait CHECK (wait_min >= 0),
    needs jsonb NOT NULL DEFAULT '[]',
    owner_only boolean NOT NULL DEFAULT false,
    done_at timestamptz,
    CONSTRAINT build_operation_once UNIQUE (build_id, position)
);

CREATE TABLE time_spell (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    build_operation_id bigint NOT NULL REFERENCES build_operation,
    account_id bigint NOT NULL REFERENCES account,
    started_at timestamptz NOT NULL,
    stopped_at timestamptz,
    recorded_at timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT time_spell_forward CHECK (stopped_at > started_at)
);
CREATE UNIQUE INDEX time_spell_one_open ON time_spell (account_id) WHERE stopped_at IS NULL;
CREATE INDEX time_spell_operation ON time_spell (build_operation_id);

CREATE TABLE cutting_plan (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    build_id bigint NOT NULL REFERENCES build,
    board_size_id bigint NOT NULL REFERENCES board_size,
    asked jsonb NOT NULL,
    answered jsonb NOT NULL,
    laid_at timestamptz NOT NULL DEFAULT now(),
    accepted_at timestamptz,
    replaced_at timestamptz
);
CREATE INDEX cutting_plan_build ON cutting_plan (build_id, id);

CREATE TABLE box (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    serial text NOT NULL CONSTRAINT box_serial_once UNIQUE CONSTRAINT box_serial_form CHECK (serial ~ '^[0-9]{4,8}$'),
    model_revision_id bigint REFERENCES model_revision,
    build_id bigint REFERENCES build,
    maker words NOT NULL DEFAULT '',
    description words NOT NULL DEFAULT '',
    timber_species_id bigint REFERENCES timber_species,
    options jsonb NOT NULL DEFAULT '[]',
    finished_at timestamptz NOT NULL,
    cured_on date,
    cost_minor bigint CONSTRAINT box_cost CHECK (cost_minor >= 0),
    held_back_because words NOT NULL DEFAULT '',
    stolen_at timestamptz,
    gone_at timestamptz,
    notes prose NOT NULL DEFAULT '',
    recorded_at timestamptz NOT NULL DEFAULT now()
);
CREATE INDEX box_of_model ON box (model_revision_id);
CREATE INDEX box_finished ON box (finished_at DESC, id DESC);
ALTER TABLE build_output ADD CONSTRAINT build_output_box FOREIGN KEY (box_id) REFERENCES box;

CREATE TABLE box_section (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    box_id bigint NOT NULL REFERENCES box,
    section words NOT NULL,
    place_in_box int NOT NULL CONSTRAINT box_section_place CHECK (place_in_box >= 1),
    from_at timestamptz NOT NULL,
    to_at timestamptz,
    note words NOT NULL DEFAULT '',
    CONSTRAINT box_section_forward CHECK (to_at >= from_at)
);
CREATE UNIQUE INDEX box_section_one_a_place ON box_section (box_id, place_in_box) WHERE to_at IS NULL;

CREATE TABLE box_owner (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    box_id bigint NOT NULL REFERENCES box,
    party_id bigint REFERENCES party,
    from_at timestamptz NOT NULL,
    to_at timestamptz,
    CONSTRAINT box_owner_forward CHECK (to_at >= from_at)
);
CREATE UNIQUE INDEX box_owner_one_now ON box_owner (box_id) WHERE to_at IS NULL;
CREATE INDEX box_owner_party ON box_owner (party_id) WHERE party_id IS NOT NULL;
CREATE INDEX box_owner_ours ON box_owner (box_id) WHERE party_id IS NULL AND to_at IS NULL;

CREATE TABLE box_place (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    box_id bigint NOT NULL REFERENCES box,
    site_id bigint REFERENCES site,
    place words NOT NULL DEFAULT '',
    from_at timestamptz NOT NULL,
    to_at timestamptz,
    CONSTRAINT box_place_forward CHECK (to_at >= from_at)
);
CREATE UNIQUE INDEX box_place_one_now ON box_place (box_id) WHERE to_at IS NULL;

CREATE TABLE shelf_lot (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    model_revision_id bigint NOT NULL REFERENCES model_revision,
    makes text NOT NULL CONSTRAINT shelf_lot_makes CHECK (makes IN ('section', 'part')),
    piece words NOT NULL,
    timber_species_id bigint REFERENCES timber_species,
    on_hand int NOT NULL DEFAULT 0,
    put_aside int NOT NULL DEFAULT 0,
    CONSTRAINT shelf_lot_within CHECK (0 <= put_aside AND put_aside <= on_hand),
    CONSTRAINT shelf_lot_once UNIQUE NULLS NOT DISTINCT (model_revision_id, makes, piece, timber_species_id)
);
CREATE TRIGGER counts BEFORE INSERT OR UPDATE ON shelf_lot FOR EACH ROW EXECUTE FUNCTION keep_counts();
ALTER TABLE stock_move ADD COLUMN shelf_lot_id bigint REFERENCES shelf_lot,
    DROP CONSTRAINT stock_move_one_thing,
    ADD CONSTRAINT stock_move_one_thing CHECK (num_nonnulls(lot_id, item_id, shelf_lot_id) = 1);
CREATE OR REPLACE FUNCTION move_stock() RETURNS trigger LANGUAGE plpgsql AS $$
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

CREATE TABLE work_week (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    from_on date NOT NULL,
    weekday smallint NOT NULL CONSTRAINT work_week_day CHECK (weekday BETWEEN 0 AND 6),
    start_minute int NOT NULL,
    end_minute int NOT NULL,
    hands int NOT NULL DEFAULT 1 CONSTRAINT work_week_hands CHECK (hands BETWEEN 1 AND 20),
    CONSTRAINT work_week_minutes CHECK (0 <= start_minute AND start_minute < end_minute AND end_minute <= 1440),
    CONSTRAINT work_week_once UNIQUE (from_on, weekday, start_minute)
);
CREATE TABLE away (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    from_on date NOT NULL,
    to_on date NOT NULL,
    why words NOT NULL DEFAULT '',
    CONSTRAINT away_forward CHECK (to_on >= from_on)
);

CREATE TABLE bench_plan (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    number int NOT NULL CONSTRAINT bench_plan_number_once UNIQUE,
    origin_at timestamptz NOT NULL,
    why words NOT NULL DEFAULT '',
    asked jsonb NOT NULL DEFAULT '{}',
    answered jsonb NOT NULL DEFAULT '{}',
    proposed_at timestamptz NOT NULL DEFAULT now(),
    accepted_at timestamptz,
    turned_down_at timestamptz,
    CONSTRAINT bench_plan_one_end CHECK (accepted_at IS NULL OR turned_down_at IS NULL)
);
CREATE TABLE bench_plan_step (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    plan_id bigint NOT NULL REFERENCES bench_plan,
    build_id bigint NOT NULL REFERENCES build,
    build_operation_id bigint REFERENCES build_operation,
    starts_at timestamptz NOT NULL,
    ends_at timestamptz NOT NULL,
    CONSTRAINT bench_plan_step_forward CHECK (ends_at >= starts_at)
);
CREATE INDEX bench_plan_step_plan ON bench_plan_step (plan_id, starts_at);

ALTER TABLE quote_line ADD CONSTRAINT quote_line_model FOREIGN KEY (model_revision_id) REFERENCES model_revision;
ALTER TABLE order_line ADD CONSTRAINT order_line_model FOREIGN KEY (model_revision_id) REFERENCES model_revision;

SELECT keep_record('fit'), keep_record('fit_size'), keep_record('box_model'), keep_record('model_revision'), keep_record('box_option'), keep_record('build'),
    keep_record('build_output'), keep_record('build_operation'), keep_record('time_spell'), keep_record('box'), keep_record('box_section'), keep_record('box_owner'),
    keep_record('box_place'), keep_record('shelf_lot'), keep_record('work_week'), keep_record('away');

COMMENT ON TABLE fit IS 'Sizes at which sections meet; the same fit interchanges for ever.';
COMMENT ON TABLE fit_size IS 'One gauge size of a fit.';
COMMENT ON COLUMN fit_size.nominal_mm IS 'mm';
COMMENT ON COLUMN fit_size.low_mm IS 'smallest that still fits, mm';
COMMENT ON COLUMN fit_size.high_mm IS 'largest that still fits, mm';
COMMENT ON TABLE box_model IS 'A box model; what it is made of stands in its revisions.';
COMMENT ON TABLE model_revision IS 'One immutable revision of a model, as calculations take it.';
COMMENT ON COLUMN model_revision.body IS 'the model of the calculation contract';
COMMENT ON COLUMN model_revision.serial_section IS 'the section that bears the serial; empty: the one with the entrance';
COMMENT ON TABLE box_option IS 'What a buyer can choose on a box: a mount, a finish, a further honey section.';
COMMENT ON COLUMN box_option.model_id IS 'none: for every model';
COMMENT ON COLUMN box_option.section IS 'for a further section: the id of the model''s section it repeats';
COMMENT ON COLUMN box_option.fittings IS 'list of {code, count}';
COMMENT ON COLUMN box_option.operations IS 'list of {id, setup_minutes, piece_minutes, wait_minutes, needs}';
COMMENT ON COLUMN box_option.cure_days IS 'days before bees may live in it';
COMMENT ON TABLE build IS 'A batch on the bench: makes N of something of one model revision.';
COMMENT ON COLUMN build.piece IS 'which section or part, when not whole boxes';
COMMENT ON COLUMN build.options IS 'ids of the options chosen';
COMMENT ON COLUMN build.parts IS 'parts as worked out when the build was made: name, board size, length, count';
COMMENT ON COLUMN build.fittings IS 'fittings as worked out: code, count';
COMMENT ON COLUMN build.held_to IS 'the maker holds it to this day';
COMMENT ON TABLE build_output IS 'Where each piece of a build goes: to an order unit, or to the shelf.';
COMMENT ON COLUMN build_output.order_unit_id IS 'none: the shelf';
COMMENT ON COLUMN build_output.box_id IS 'the box it became';
COMMENT ON TABLE build_operation IS 'A step of a build, with its standard time.';
COMMENT ON COLUMN build_operation.setup_min IS 'minutes once a batch';
COMMENT ON COLUMN build_operation.piece_min IS 'minutes a piece';
COMMENT ON COLUMN build_operation.wait_min IS 'minutes afterwards that need no hands';
COMMENT ON COLUMN build_operation.needs IS 'ids of limited things';
COMMENT ON TABLE time_spell IS 'Time spent on an operation; one open spell per person.';
COMMENT ON TABLE cutting_plan IS 'A cutting plan as laid for a build, with its proof.';
COMMENT ON COLUMN cutting_plan.asked IS 'input of the calculation';
COMMENT ON COLUMN cutting_plan.answered IS 'output of the calculation';
COMMENT ON TABLE box IS 'A box with a serial for life; boxes of other makers are registered too.';
COMMENT ON COLUMN box.serial IS 'digits, the last is the check digit';
COMMENT ON COLUMN box.maker IS 'another maker''s name; empty: this workshop';
COMMENT ON COLUMN box.options IS 'ids of the options';
COMMENT ON COLUMN box.cured_on IS 'bees may live in it from this day';
COMMENT ON COLUMN box.cost_minor IS 'what it cost to make, minor units';
COMMENT ON COLUMN box.gone_at IS 'burnt, broken up';
COMMENT ON TABLE box_section IS 'Which section sat in which box, at which place in it, from when to when.';
COMMENT ON COLUMN box_section.section IS 'id of the model''s section';
COMMENT ON COLUMN box_section.place_in_box IS 'from the bottom';
COMMENT ON TABLE box_owner IS 'Whose box it is, dated.';
COMMENT ON COLUMN box_owner.party_id IS 'none: the workshop';
COMMENT ON TABLE box_place IS 'Where the box is, dated: at a site, or a place in the workshop.';
COMMENT ON TABLE shelf_lot IS 'Sections and parts on the shelf that bear no serial.';
COMMENT ON TABLE work_week IS 'Hours of the week at the bench, from which day on.';
COMMENT ON COLUMN work_week.weekday IS '0 is Sunday';
COMMENT ON COLUMN work_week.start_minute IS 'minutes after midnight';
COMMENT ON COLUMN work_week.end_minute IS 'minutes after midnight';
COMMENT ON TABLE away IS 'Days away, illness too.';
COMMENT ON TABLE bench_plan IS 'A plan of the bench: stored, numbered, laid anew only on purpose.';
COMMENT ON COLUMN bench_plan.origin_at IS 'minute 0 of the plan';
COMMENT ON TABLE bench_plan_step IS 'When the plan has an operation done.';
