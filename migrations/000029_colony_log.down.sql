CREATE OR REPLACE FUNCTION claim_ours() RETURNS trigger LANGUAGE plpgsql AS $$
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
ALTER TABLE box_section DROP COLUMN came_from_id;
ALTER TABLE colony_event DROP COLUMN happened_about;
