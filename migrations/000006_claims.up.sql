-- The one place where anything is put aside for anybody.

CREATE TABLE claim (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    order_unit_id bigint REFERENCES order_unit,
    build_id bigint REFERENCES build,
    lot_id bigint REFERENCES board_lot,
    item_id bigint REFERENCES item,
    shelf_lot_id bigint REFERENCES shelf_lot,
    pack_id bigint REFERENCES pack,
    box_id bigint REFERENCES box,
    colony_id bigint REFERENCES colony,
    quantity int NOT NULL DEFAULT 1 CONSTRAINT claim_quantity CHECK (quantity >= 1),
    strength text NOT NULL CONSTRAINT claim_strength CHECK (strength IN ('meant', 'put aside')),
    made_at timestamptz NOT NULL DEFAULT now(),
    promised_on date,
    ended_at timestamptz,
    ended_how text CONSTRAINT claim_ended_how CHECK (ended_how IN ('used', 'freed', 'cancelled', 'handed over', 'broken by a fact', 're-laid')),
    ended_because words NOT NULL DEFAULT '',
    CONSTRAINT claim_one_claimant CHECK (num_nonnulls(order_unit_id, build_id) = 1),
    CONSTRAINT claim_one_thing CHECK (num_nonnulls(lot_id, item_id, shelf_lot_id, pack_id, box_id, colony_id) = 1),
    CONSTRAINT claim_pack_meant CHECK (pack_id IS NULL OR strength = 'meant'),
    CONSTRAINT claim_one_body CHECK (num_nonnulls(box_id, colony_id) = 0 OR quantity = 1),
    CONSTRAINT claim_end CHECK ((ended_at IS NULL) = (ended_how IS NULL))
);
CREATE UNIQUE INDEX claim_one_a_box ON claim (box_id) WHERE ended_at IS NULL AND box_id IS NOT NULL;
CREATE UNIQUE INDEX claim_one_a_colony ON claim (colony_id) WHERE ended_at IS NULL AND colony_id IS NOT NULL;
CREATE INDEX claim_unit ON claim (order_unit_id) WHERE order_unit_id IS NOT NULL;
CREATE INDEX claim_build ON claim (build_id) WHERE build_id IS NOT NULL;
CREATE INDEX claim_lot ON claim (lot_id) WHERE lot_id IS NOT NULL AND ended_at IS NULL;
CREATE INDEX claim_item ON claim (item_id) WHERE item_id IS NOT NULL AND ended_at IS NULL;
CREATE INDEX claim_pack ON claim (pack_id) WHERE pack_id IS NOT NULL AND ended_at IS NULL;
CREATE INDEX claim_broken ON claim (ended_at) WHERE ended_how = 'broken by a fact';

-- put_aside follows the claims that are put aside and open.
CREATE FUNCTION count_claim() RETURNS trigger LANGUAGE plpgsql AS $$
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
CREATE TRIGGER count_claim AFTER INSERT OR UPDATE OR DELETE ON claim FOR EACH ROW EXECUTE FUNCTION count_claim();

-- Only what the workshop owns and does not hold back can be promised.
CREATE FUNCTION claim_ours() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NEW.box_id IS NOT NULL AND NOT EXISTS (
        SELECT 1 FROM box b JOIN box_owner o ON o.box_id = b.id AND o.to_at IS NULL
        WHERE b.id = NEW.box_id AND o.party_id IS NULL AND b.held_back_because = '' AND b.gone_at IS NULL AND b.stolen_at IS NULL) THEN
        RAISE EXCEPTION 'this box cannot be promised' USING ERRCODE = 'check_violation', CONSTRAINT = 'claim_box_ours';
    END IF;
    IF NEW.colony_id IS NOT NULL AND NOT EXISTS (
        SELECT 1 FROM colony c JOIN colony_owner o ON o.colony_id = c.id AND o.to_at IS NULL
        WHERE c.id = NEW.colony_id AND o.party_id IS NULL AND c.held_back_because = '' AND c.ended_at IS NULL) THEN
        RAISE EXCEPTION 'this colony cannot be promised' USING ERRCODE = 'check_violation', CONSTRAINT = 'claim_colony_ours';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER ours BEFORE INSERT ON claim FOR EACH ROW EXECUTE FUNCTION claim_ours();
SELECT keep_record('claim');

COMMENT ON TABLE claim IS '(order unit or build) x (lot, item, shelf lot, pack, box or colony) x quantity.';
COMMENT ON COLUMN claim.quantity IS 'boards or pieces';
COMMENT ON COLUMN claim.promised_on IS 'of the claimant when made; the latest promise gives way first';
