-- Timber from the log to the rack, fittings, and every move of stock.

CREATE TABLE timber_species (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    code text NOT NULL CONSTRAINT timber_species_code_once UNIQUE,
    name words NOT NULL,
    botanical words NOT NULL DEFAULT '',
    density_kg_m3 numeric(6,1) CONSTRAINT timber_species_density CHECK (density_kg_m3 BETWEEN 50 AND 1500),
    specific_gravity numeric(5,3) CONSTRAINT timber_species_sg CHECK (specific_gravity BETWEEN 0.05 AND 1.5),
    radial_pct numeric(5,2) CONSTRAINT timber_species_radial CHECK (radial_pct BETWEEN 0 AND 30),
    tangential_pct numeric(5,2) CONSTRAINT timber_species_tangential CHECK (tangential_pct BETWEEN 0 AND 30),
    shrinkage_to_mc_pct numeric(4,1) NOT NULL DEFAULT 0 CONSTRAINT timber_species_runs_to CHECK (shrinkage_to_mc_pct BETWEEN 0 AND 25),
    borers_like_sapwood boolean NOT NULL DEFAULT false,
    metre_cost_minor bigint NOT NULL DEFAULT 0 CONSTRAINT timber_species_metre_cost CHECK (metre_cost_minor >= 0),
    source prose NOT NULL DEFAULT '',
    put_away_at timestamptz
);

CREATE TABLE board_size (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    width_mm numeric(8,1) NOT NULL CONSTRAINT board_size_width CHECK (width_mm > 0 AND width_mm <= 2000),
    thickness_mm numeric(8,1) NOT NULL CONSTRAINT board_size_thickness CHECK (thickness_mm > 0 AND thickness_mm <= 500),
    CONSTRAINT board_size_once UNIQUE (width_mm, thickness_mm)
);

CREATE TABLE supplier (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    name words NOT NULL,
    phone words NOT NULL DEFAULT '',
    lead_days int NOT NULL DEFAULT 7 CONSTRAINT supplier_lead CHECK (lead_days BETWEEN 0 AND 1000),
    notes prose NOT NULL DEFAULT '',
    put_away_at timestamptz
);

CREATE TABLE log (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    number text NOT NULL CONSTRAINT log_number_once UNIQUE,
    species_id bigint NOT NULL REFERENCES timber_species,
    small_end_mm numeric(8,1) NOT NULL CONSTRAINT log_small CHECK (small_end_mm > 0),
    large_end_mm numeric(8,1) NOT NULL,
    length_mm numeric(8,1) NOT NULL CONSTRAINT log_length CHECK (length_mm > 0 AND length_mm <= 20000),
    sweep_mm numeric(8,1) NOT NULL DEFAULT 0 CONSTRAINT log_sweep CHECK (sweep_mm >= 0),
    felled_on date,
    ends_sealed boolean NOT NULL DEFAULT false,
    metal_suspected boolean NOT NULL DEFAULT false,
    hollow_suspected boolean NOT NULL DEFAULT false,
    from_where words NOT NULL DEFAULT '',
    supplier_id bigint REFERENCES supplier,
    cost_minor bigint NOT NULL DEFAULT 0 CONSTRAINT log_cost CHECK (cost_minor >= 0),
    haulage_minor bigint NOT NULL DEFAULT 0 CONSTRAINT log_haulage CHECK (haulage_minor >= 0),
    sawn_at timestamptz,
    sawn_min int CONSTRAINT log_sawn_min CHECK (sawn_min >= 0),
    notes prose NOT NULL DEFAULT '',
    recorded_at timestamptz NOT NULL DEFAULT now(),
    put_away_at timestamptz,
    CONSTRAINT log_ends CHECK (large_end_mm >= small_end_mm)
);

CREATE TABLE climate (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    name words NOT NULL CONSTRAINT climate_name_once UNIQUE,
    months jsonb NOT NULL CONSTRAINT climate_twelve CHECK (jsonb_array_length(months) = 12)
);

CREATE TABLE pack (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    number text NOT NULL CONSTRAINT pack_number_once UNIQUE,
    species_id bigint NOT NULL REFERENCES timber_species,
    board_size_id bigint NOT NULL REFERENCES board_size,
    log_id bigint REFERENCES log,
    place words NOT NULL DEFAULT '',
    climate_id bigint REFERENCES climate,
    stacked_on date NOT NULL,
    start_mc_pct numeric(5,1) CONSTRAINT pack_start_mc CHECK (start_mc_pct BETWEEN 1 AND 300),
    target_mc_pct numeric(5,1) NOT NULL DEFAULT 12 CONSTRAINT pack_target_mc CHECK (target_mc_pct BETWEEN 3 AND 30),
    dresses_to_id bigint REFERENCES board_size,
    ready_on date,
    ready_on_p80 date,
    never_dry boolean NOT NULL DEFAULT false,
    cost_minor bigint NOT NULL DEFAULT 0 CONSTRAINT pack_cost CHECK (cost_minor >= 0),
    finished_at timestamptz,
    notes prose NOT NULL DEFAULT '',
    recorded_at timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT pack_p80_later CHECK (ready_on_p80 >= ready_on)
);
CREATE INDEX pack_drying ON pack (ready_on_p80, id) WHERE finished_at IS NULL;

CREATE TABLE pack_content (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    pack_id bigint NOT NULL REFERENCES pack,
    length_mm int NOT NULL CONSTRAINT pack_content_length CHECK (length_mm BETWEEN 1 AND 20000),
    grade text NOT NULL DEFAULT 'sound' CONSTRAINT pack_content_grade CHECK (grade IN ('clear', 'sound', 'knotty')),
    count int NOT NULL CONSTRAINT pack_content_count CHECK (count >= 0),
    CONSTRAINT pack_content_once UNIQUE (pack_id, length_mm, grade)
);

CREATE TABLE pack_reading (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    pack_id bigint NOT NULL REFERENCES pack,
    read_on date NOT NULL,
    board words NOT NULL DEFAULT '',
    meter_pct numeric(5,1) NOT NULL CONSTRAINT pack_reading_meter CHECK (meter_pct BETWEEN 1 AND 300),
    mc_pct numeric(5,1) NOT NULL CONSTRAINT pack_reading_mc CHECK (mc_pct BETWEEN 1 AND 300),
    ready_on date,
    ready_on_p80 date,
    never_dry boolean NOT NULL DEFAULT false,
    recorded_at timestamptz NOT NULL DEFAULT now()
);
CREATE INDEX pack_reading_pack ON pack_reading (pack_id, read_on);

CREATE TABLE board_lot (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    species_id bigint NOT NULL REFERENCES timber_species,
    board_size_id bigint NOT NULL REFERENCES board_size,
    grade text NOT NULL DEFAULT 'sound' CONSTRAINT board_lot_grade CHECK (grade IN ('clear', 'sound', 'knotty')),
    length_mm int NOT NULL CONSTRAINT board_lot_length CHECK (length_mm BETWEEN 1 AND 20000),
    thickness_true_mm numeric(8,1) NOT NULL CONSTRAINT board_lot_thickness CHECK (thickness_true_mm > 0),
    place words NOT NULL DEFAULT '',
    pack_id bigint REFERENCES pack,
    offcut boolean NOT NULL DEFAULT false,
    metre_cost_minor bigint CONSTRAINT board_lot_metre_cost CHECK (metre_cost_minor >= 0),
    on_hand int NOT NULL DEFAULT 0,
    put_aside int NOT NULL DEFAULT 0,
    first_in_on date NOT NULL DEFAULT CURRENT_DATE,
    CONSTRAINT board_lot_within CHECK (0 <= put_aside AND put_aside <= on_hand),
    CONSTRAINT board_lot_once UNIQUE NULLS NOT DISTINCT (species_id, board_size_id, grade, length_mm, thickness_true_mm, place, pack_id, offcut)
);
CREATE INDEX board_lot_rack ON board_lot (species_id, board_size_id, length_mm) WHERE on_hand > 0;

CREATE TABLE item (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    code text NOT NULL CONSTRAINT item_code_once UNIQUE,
    name words NOT NULL,
    kind text NOT NULL CONSTRAINT item_kind CHECK (kind IN ('fitting', 'finish', 'goods')),
    counted boolean NOT NULL DEFAULT true,
    unit words NOT NULL DEFAULT 'each',
    cost_minor bigint NOT NULL DEFAULT 0 CONSTRAINT item_cost CHECK (cost_minor >= 0),
    supplier_id bigint REFERENCES supplier,
    lead_days int CONSTRAINT item_lead CHECK (lead_days BETWEEN 0 AND 1000),
    low_mark int NOT NULL DEFAULT 0 CONSTRAINT item_low_mark CHECK (low_mark >= 0),
    low boolean NOT NULL DEFAULT false,
    on_hand int NOT NULL DEFAULT 0,
    put_aside int NOT NULL DEFAULT 0,
    put_away_at timestamptz,
    CONSTRAINT item_within CHECK (0 <= put_aside AND put_aside <= on_hand),
    CONSTRAINT item_bulk_uncounted CHECK (counted OR (on_hand = 0 AND put_aside = 0))
);

CREATE TABLE stock_move (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    lot_id bigint REFERENCES board_lot,
    item_id bigint REFERENCES item,
    quantity int NOT NULL CONSTRAINT stock_move_quantity CHECK (quantity <> 0),
    kind text NOT NULL CONSTRAINT stock_move_kind CHECK (kind IN ('opening', 'dressed', 'made', 'bought', 'cut', 'offcut', 'used', 'sold', 'found', 'lost', 'docked', 'ripped', 'moved', 'returned', 'counted')),
    happened_at timestamptz NOT NULL,
    recorded_at timestamptz NOT NULL DEFAULT now(),
    build_id bigint,
    order_unit_id bigint REFERENCES order_unit,
    pack_id bigint REFERENCES pack,
    reason words NOT NULL DEFAULT '',
    CONSTRAINT stock_move_one_thing CHECK (num_nonnulls(lot_id, item_id) = 1),
    CONSTRAINT stock_move_reason CHECK (kind NOT IN ('found', 'lost') OR length(trim(reason)) > 0)
);
CREATE INDEX stock_move_lot ON stock_move (lot_id, id);
CREATE INDEX stock_move_item ON stock_move (item_id, id);
CREATE INDEX stock_move_build ON stock_move (build_id) WHERE build_id IS NOT NULL;
CREATE TRIGGER written_once BEFORE UPDATE OR DELETE ON stock_move FOR EACH ROW EXECUTE FUNCTION refuse_change();

CREATE FUNCTION move_stock() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('kerfbook.moving', 'yes', true);
    IF NEW.lot_id IS NOT NULL THEN
        UPDATE board_lot SET on_hand = on_hand + NEW.quantity WHERE id = NEW.lot_id;
    ELSE
        UPDATE item SET on_hand = on_hand + NEW.quantity WHERE id = NEW.item_id;
    END IF;
    PERFORM set_config('kerfbook.moving', '', true);
    RETURN NULL;
END $$;
CREATE TRIGGER move_stock AFTER INSERT ON stock_move FOR EACH ROW EXECUTE FUNCTION move_stock();

-- on_hand and put_aside change only with a move or a claim.
CREATE FUNCTION keep_counts() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF coalesce(current_setting('kerfbook.moving', true), '') <> 'yes' THEN
        IF TG_OP = 'INSERT' AND (NEW.on_hand <> 0 OR NEW.put_aside <> 0)
        OR TG_OP = 'UPDATE' AND (NEW.on_hand <> OLD.on_hand OR NEW.put_aside <> OLD.put_aside) THEN
            RAISE EXCEPTION 'counts change only with a move or a claim' USING ERRCODE = 'restrict_violation', CONSTRAINT = TG_TABLE_NAME || '_counts';
        END IF;
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER counts BEFORE INSERT OR UPDATE ON board_lot FOR EACH ROW EXECUTE FUNCTION keep_counts();
CREATE TRIGGER counts BEFORE INSERT OR UPDATE ON item FOR EACH ROW EXECUTE FUNCTION keep_counts();

CREATE TABLE purchase (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    supplier_id bigint REFERENCES supplier,
    ordered_on date NOT NULL,
    expected_on date,
    received_at timestamptz,
    their_number words NOT NULL DEFAULT '',
    notes prose NOT NULL DEFAULT ''
);
CREATE TABLE purchase_line (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    purchase_id bigint NOT NULL REFERENCES purchase,
    item_id bigint REFERENCES item,
    lot_id bigint REFERENCES board_lot,
    description words NOT NULL DEFAULT '',
    quantity int NOT NULL CONSTRAINT purchase_line_quantity CHECK (quantity > 0),
    cost_ex_tax_minor bigint NOT NULL CONSTRAINT purchase_line_cost CHECK (cost_ex_tax_minor >= 0),
    tax_minor bigint NOT NULL DEFAULT 0 CONSTRAINT purchase_line_tax CHECK (tax_minor >= 0),
    tax_code text NOT NULL DEFAULT 'standard'
);

ALTER TABLE quote_line ADD CONSTRAINT quote_line_timber FOREIGN KEY (timber_species_id) REFERENCES timber_species,
    ADD CONSTRAINT quote_line_item FOREIGN KEY (item_id) REFERENCES item;
ALTER TABLE order_line ADD CONSTRAINT order_line_timber FOREIGN KEY (timber_species_id) REFERENCES timber_species,
    ADD CONSTRAINT order_line_item FOREIGN KEY (item_id) REFERENCES item;

SELECT keep_record('timber_species'), keep_record('supplier'), keep_record('log'), keep_record('climate'), keep_record('pack'), keep_record('pack_content'),
    keep_record('pack_reading'), keep_record('board_lot'), keep_record('item'), keep_record('purchase'), keep_record('purchase_line');

COMMENT ON TABLE timber_species IS 'Kinds of timber, each figure with its source; the maker can add his own.';
COMMENT ON COLUMN timber_species.code IS 'as the calculations name it';
COMMENT ON COLUMN timber_species.density_kg_m3 IS 'air-dry at 12 %, kg/m3';
COMMENT ON COLUMN timber_species.specific_gravity IS 'oven-dry mass on volume at 12 %';
COMMENT ON COLUMN timber_species.radial_pct IS 'shrinkage from green, percent';
COMMENT ON COLUMN timber_species.tangential_pct IS 'shrinkage from green, percent';
COMMENT ON COLUMN timber_species.shrinkage_to_mc_pct IS 'moisture the shrinkage runs to, percent';
COMMENT ON COLUMN timber_species.metre_cost_minor IS 'standard cost of a metre of 100 x 28 mm board, minor units, until a lot has its own';
COMMENT ON TABLE board_size IS 'Width x thickness of a board.';
COMMENT ON COLUMN board_size.width_mm IS 'mm';
COMMENT ON COLUMN board_size.thickness_mm IS 'mm';
COMMENT ON TABLE supplier IS 'From whom timber, fittings and finish are bought.';
COMMENT ON COLUMN supplier.lead_days IS 'days';
COMMENT ON TABLE log IS 'A log, before and after it is sawn.';
COMMENT ON COLUMN log.small_end_mm IS 'under bark, mm';
COMMENT ON COLUMN log.large_end_mm IS 'under bark, mm';
COMMENT ON COLUMN log.length_mm IS 'mm';
COMMENT ON COLUMN log.sweep_mm IS 'mm';
COMMENT ON COLUMN log.cost_minor IS 'minor units';
COMMENT ON COLUMN log.haulage_minor IS 'minor units';
COMMENT ON COLUMN log.sawn_min IS 'minutes at the mill';
COMMENT ON TABLE climate IS 'Weather of a drying place: twelve months of temperature and humidity.';
COMMENT ON COLUMN climate.months IS 'January first: temperature_c, humidity_pct';
COMMENT ON TABLE pack IS 'A stickered stack of boards, drying.';
COMMENT ON COLUMN pack.board_size_id IS 'green size';
COMMENT ON COLUMN pack.start_mc_pct IS 'percent of oven-dry mass';
COMMENT ON COLUMN pack.target_mc_pct IS 'percent of oven-dry mass';
COMMENT ON COLUMN pack.dresses_to_id IS 'the board size it is meant to be dressed to';
COMMENT ON COLUMN pack.ready_on IS 'dry with even odds, as last worked out';
COMMENT ON COLUMN pack.ready_on_p80 IS 'dry with 4-in-5 odds, as last worked out';
COMMENT ON COLUMN pack.never_dry IS 'this climate cannot reach the target';
COMMENT ON COLUMN pack.cost_minor IS 'log, haulage and sawing, minor units';
COMMENT ON COLUMN pack.finished_at IS 'all of it dressed or gone';
COMMENT ON TABLE pack_content IS 'What lies in a pack, by length and grade.';
COMMENT ON COLUMN pack_content.length_mm IS 'mm';
COMMENT ON TABLE pack_reading IS 'A moisture reading of a sample board, and the dates that followed from it.';
COMMENT ON COLUMN pack_reading.board IS 'which sample board';
COMMENT ON COLUMN pack_reading.meter_pct IS 'as the meter showed, percent';
COMMENT ON COLUMN pack_reading.mc_pct IS 'corrected for the species, percent of oven-dry mass';
COMMENT ON TABLE board_lot IS 'Dressed boards on the rack, alike in all that matters.';
COMMENT ON COLUMN board_lot.board_size_id IS 'nominal';
COMMENT ON COLUMN board_lot.length_mm IS 'usable, rounded down to the step, mm';
COMMENT ON COLUMN board_lot.thickness_true_mm IS 'as measured, mm';
COMMENT ON COLUMN board_lot.metre_cost_minor IS 'real cost of a metre, minor units; none: the standard cost';
COMMENT ON COLUMN board_lot.first_in_on IS 'age of offcuts';
COMMENT ON TABLE item IS 'Fittings, finishes and goods: counted, or bulk with a low mark only.';
COMMENT ON COLUMN item.code IS 'as models name it';
COMMENT ON COLUMN item.cost_minor IS 'each, minor units';
COMMENT ON COLUMN item.lead_days IS 'days; none: the supplier''s';
COMMENT ON COLUMN item.low IS 'for bulk: somebody saw that it runs low';
COMMENT ON TABLE stock_move IS 'Every move of boards and items: appended, never changed.';
COMMENT ON COLUMN stock_move.quantity IS 'boards or pieces; negative goes out';
COMMENT ON TABLE purchase IS 'Purchases of timber, fittings and finish.';
COMMENT ON TABLE purchase_line IS 'A line of a purchase.';
COMMENT ON COLUMN purchase_line.cost_ex_tax_minor IS 'of the line, minor units';
COMMENT ON COLUMN purchase_line.tax_minor IS 'of the line, minor units';
