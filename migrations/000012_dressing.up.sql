-- What a metre really costs: each dressing and ripping with what went in, what came and
-- what it cost; purchases that come in parts and bring boards, logs and packs.
ALTER TABLE workshop
    ADD COLUMN drying_m3_month_minor bigint NOT NULL DEFAULT 300 CONSTRAINT workshop_drying_space CHECK (drying_m3_month_minor >= 0);

CREATE TABLE dressing (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    pack_id bigint REFERENCES pack,
    lot_id bigint REFERENCES board_lot,
    happened_at timestamptz NOT NULL,
    recorded_at timestamptz NOT NULL DEFAULT now(),
    taken int NOT NULL CONSTRAINT dressing_taken CHECK (taken >= 0),
    taken_mm bigint NOT NULL CONSTRAINT dressing_taken_length CHECK (taken_mm >= 0),
    came_mm bigint NOT NULL CONSTRAINT dressing_came_length CHECK (came_mm >= 0),
    taken_mm3 bigint NOT NULL CONSTRAINT dressing_taken_volume CHECK (taken_mm3 >= 0),
    came_mm3 bigint NOT NULL CONSTRAINT dressing_came_volume CHECK (came_mm3 >= 0),
    minutes int NOT NULL DEFAULT 0 CONSTRAINT dressing_minutes CHECK (minutes BETWEEN 0 AND 10000),
    by_whom words NOT NULL DEFAULT '',
    docked_for text NOT NULL DEFAULT '' CONSTRAINT dressing_docked_for CHECK (docked_for IN ('', 'checks', 'knots', 'wane', 'stain', 'borers', 'twist', 'other')),
    boards_minor bigint NOT NULL DEFAULT 0 CONSTRAINT dressing_boards_cost CHECK (boards_minor >= 0),
    drying_minor bigint NOT NULL DEFAULT 0 CONSTRAINT dressing_drying_cost CHECK (drying_minor >= 0),
    labour_minor bigint NOT NULL DEFAULT 0 CONSTRAINT dressing_labour_cost CHECK (labour_minor >= 0),
    CONSTRAINT dressing_of_one CHECK (num_nonnulls(pack_id, lot_id) = 1)
);
CREATE INDEX dressing_pack ON dressing (pack_id, id) WHERE pack_id IS NOT NULL;
CREATE INDEX dressing_from_lot ON dressing (lot_id, id) WHERE lot_id IS NOT NULL;
CREATE TRIGGER written_once BEFORE UPDATE OR DELETE ON dressing FOR EACH ROW EXECUTE FUNCTION refuse_change();

CREATE TABLE dressing_lot (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    dressing_id bigint NOT NULL REFERENCES dressing,
    lot_id bigint NOT NULL REFERENCES board_lot,
    count int NOT NULL CONSTRAINT dressing_lot_count CHECK (count > 0),
    boards_minor bigint NOT NULL DEFAULT 0 CONSTRAINT dressing_lot_boards_cost CHECK (boards_minor >= 0),
    drying_minor bigint NOT NULL DEFAULT 0 CONSTRAINT dressing_lot_drying_cost CHECK (drying_minor >= 0),
    labour_minor bigint NOT NULL DEFAULT 0 CONSTRAINT dressing_lot_labour_cost CHECK (labour_minor >= 0)
);
CREATE INDEX dressing_lot_dressing ON dressing_lot (dressing_id, id);
CREATE INDEX dressing_lot_lot ON dressing_lot (lot_id, id);
CREATE TRIGGER written_once BEFORE UPDATE OR DELETE ON dressing_lot FOR EACH ROW EXECUTE FUNCTION refuse_change();

ALTER TABLE purchase ADD COLUMN paid_on date;
CREATE INDEX purchase_to_come ON purchase (id) WHERE received_at IS NULL;
ALTER TABLE purchase_line
    ADD COLUMN brings text NOT NULL DEFAULT '' CONSTRAINT purchase_line_brings CHECK (brings IN ('', 'boards', 'log', 'pack')),
    ADD COLUMN species_id bigint REFERENCES timber_species,
    ADD COLUMN width_mm numeric(8,1) CONSTRAINT purchase_line_width CHECK (width_mm > 0),
    ADD COLUMN thickness_mm numeric(8,1) CONSTRAINT purchase_line_thickness CHECK (thickness_mm > 0),
    ADD COLUMN length_mm int CONSTRAINT purchase_line_length CHECK (length_mm BETWEEN 1 AND 20000),
    ADD COLUMN grade text CONSTRAINT purchase_line_grade CHECK (grade IN ('clear', 'sound', 'knotty')),
    ADD COLUMN small_end_mm numeric(8,1) CONSTRAINT purchase_line_small_end CHECK (small_end_mm > 0),
    ADD COLUMN large_end_mm numeric(8,1) CONSTRAINT purchase_line_large_end CHECK (large_end_mm >= small_end_mm),
    ADD COLUMN place words NOT NULL DEFAULT '',
    ADD COLUMN received int NOT NULL DEFAULT 0 CONSTRAINT purchase_line_received CHECK (received BETWEEN 0 AND quantity),
    ADD CONSTRAINT purchase_line_timber CHECK ((brings = '') = (species_id IS NULL) AND (brings = '' OR length_mm IS NOT NULL));
UPDATE purchase_line SET received = quantity WHERE purchase_id IN (SELECT id FROM purchase WHERE received_at IS NOT NULL);
CREATE INDEX purchase_line_purchase ON purchase_line (purchase_id, id);
CREATE INDEX purchase_line_item ON purchase_line (item_id) WHERE item_id IS NOT NULL AND received < quantity;
CREATE INDEX purchase_line_boards ON purchase_line (species_id) WHERE species_id IS NOT NULL AND received < quantity;

COMMENT ON COLUMN workshop.drying_m3_month_minor IS 'cost of a cubic metre of stack for a month, minor units';
COMMENT ON TABLE dressing IS 'Boards of a pack that were dressed, or of a lot that were ripped narrower: what went in, what came, what it cost.';
COMMENT ON COLUMN dressing.taken IS 'boards';
COMMENT ON COLUMN dressing.taken_mm IS 'length of the boards that went in, mm';
COMMENT ON COLUMN dressing.came_mm IS 'usable length that came, strips counted by their width and a kerf, mm';
COMMENT ON COLUMN dressing.taken_mm3 IS 'mm3';
COMMENT ON COLUMN dressing.came_mm3 IS 'mm3';
COMMENT ON COLUMN dressing.minutes IS 'minutes at the planer and the saw';
COMMENT ON COLUMN dressing.docked_for IS 'what most of the docking was for';
COMMENT ON COLUMN dressing.boards_minor IS 'share of log, haulage and sawing, or the boards that were ripped, minor units';
COMMENT ON COLUMN dressing.drying_minor IS 'the space in which they dried, minor units';
COMMENT ON COLUMN dressing.labour_minor IS 'minor units';
COMMENT ON TABLE dressing_lot IS 'Boards that came of a dressing, and the cost they carry.';
COMMENT ON COLUMN dressing_lot.boards_minor IS 'minor units';
COMMENT ON COLUMN dressing_lot.drying_minor IS 'minor units';
COMMENT ON COLUMN dressing_lot.labour_minor IS 'minor units';
COMMENT ON COLUMN purchase.paid_on IS 'none: not paid yet';
COMMENT ON COLUMN purchase_line.brings IS 'what stands in the book when it comes in: boards on the rack, a log, a pack';
COMMENT ON COLUMN purchase_line.width_mm IS 'mm';
COMMENT ON COLUMN purchase_line.thickness_mm IS 'mm';
COMMENT ON COLUMN purchase_line.length_mm IS 'mm';
COMMENT ON COLUMN purchase_line.small_end_mm IS 'of a log, mm';
COMMENT ON COLUMN purchase_line.large_end_mm IS 'of a log, mm';
COMMENT ON COLUMN purchase_line.received IS 'pieces that came in';
