-- A colony's log: days that are known about, where a section came from, and no box promised with bees in it that are held back.

ALTER TABLE colony_event ADD COLUMN happened_about words NOT NULL DEFAULT '';
COMMENT ON COLUMN colony_event.happened_about IS 'such as about 1961, where the day is not known; happened_at is then the middle of it';
ALTER TABLE box_section ADD COLUMN came_from_id bigint REFERENCES box_section;
COMMENT ON COLUMN box_section.came_from_id IS 'where this section sat before: in which box, at which place';

CREATE OR REPLACE FUNCTION claim_ours() RETURNS trigger LANGUAGE plpgsql AS $$
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
