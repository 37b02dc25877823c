-- What a log gives: how boards are sawn larger than they are dressed, what is wanted of a
-- log, what it was expected to give when it was sawn, and the boards that really came.
ALTER TABLE workshop
    ADD COLUMN planing_mm numeric(4,1) NOT NULL DEFAULT 2 CONSTRAINT workshop_planing CHECK (planing_mm BETWEEN 0 AND 30),
    ADD COLUMN straighten_width_mm numeric(4,1) NOT NULL DEFAULT 3 CONSTRAINT workshop_straighten_width CHECK (straighten_width_mm BETWEEN 0 AND 50),
    ADD COLUMN straighten_thickness_mm numeric(4,1) NOT NULL DEFAULT 0 CONSTRAINT workshop_straighten_thickness CHECK (straighten_thickness_mm BETWEEN 0 AND 50),
    ADD COLUMN saw_variation_mm numeric(4,1) NOT NULL DEFAULT 1 CONSTRAINT workshop_saw_variation CHECK (saw_variation_mm BETWEEN 0 AND 20),
    ADD COLUMN box_mc_pct numeric(4,1) NOT NULL DEFAULT 12 CONSTRAINT workshop_box_mc CHECK (box_mc_pct BETWEEN 3 AND 25),
    ADD COLUMN sawn_grain text NOT NULL DEFAULT 'mixed' CONSTRAINT workshop_sawn_grain CHECK (sawn_grain IN ('radial', 'tangential', 'mixed')),
    ADD COLUMN short_board_mm int NOT NULL DEFAULT 900 CONSTRAINT workshop_short_board CHECK (short_board_mm BETWEEN 100 AND 20000),
    ADD COLUMN mill_hour_cost_minor bigint NOT NULL DEFAULT 4000 CONSTRAINT workshop_mill_hour_cost CHECK (mill_hour_cost_minor >= 0),
    ADD COLUMN mill_min_m3 int NOT NULL DEFAULT 300 CONSTRAINT workshop_mill_min CHECK (mill_min_m3 BETWEEN 0 AND 10000);
UPDATE workshop SET mill_hour_cost_minor = hour_cost_minor;

ALTER TABLE log
    ADD COLUMN wish jsonb,
    ADD COLUMN expected jsonb,
    ADD COLUMN expected_m3 numeric(12,6) CONSTRAINT log_expected_m3 CHECK (expected_m3 >= 0),
    ADD COLUMN real_m3 numeric(12,6) CONSTRAINT log_real_m3 CHECK (real_m3 >= 0),
    ADD COLUMN sawing_minor bigint NOT NULL DEFAULT 0 CONSTRAINT log_sawing CHECK (sawing_minor >= 0);
CREATE INDEX log_yields ON log (species_id, sawn_at DESC, id DESC) WHERE real_m3 IS NOT NULL;
CREATE INDEX log_minutes ON log (sawn_at DESC, id DESC) WHERE sawn_min > 0;

CREATE TABLE log_board (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    log_id bigint NOT NULL REFERENCES log,
    pack_id bigint NOT NULL REFERENCES pack,
    board_size_id bigint NOT NULL REFERENCES board_size,
    length_mm int NOT NULL CONSTRAINT log_board_length CHECK (length_mm BETWEEN 1 AND 20000),
    grade text NOT NULL DEFAULT 'sound' CONSTRAINT log_board_grade CHECK (grade IN ('clear', 'sound', 'knotty')),
    count int NOT NULL CONSTRAINT log_board_count CHECK (count > 0),
    CONSTRAINT log_board_once UNIQUE (log_id, board_size_id, length_mm, grade)
);
CREATE TRIGGER written_once BEFORE UPDATE OR DELETE ON log_board FOR EACH ROW EXECUTE FUNCTION refuse_change();

COMMENT ON COLUMN workshop.planing_mm IS 'taken off both faces together, mm';
COMMENT ON COLUMN workshop.straighten_width_mm IS 'taken off the width of a dry board to make it straight, mm';
COMMENT ON COLUMN workshop.straighten_thickness_mm IS 'taken off the thickness of a dry board to make it flat, mm';
COMMENT ON COLUMN workshop.saw_variation_mm IS 'how far below its mark a board may come off the mill, mm';
COMMENT ON COLUMN workshop.box_mc_pct IS 'moisture the boxes will live at, percent';
COMMENT ON COLUMN workshop.sawn_grain IS 'which shrinkage boards are sawn for';
COMMENT ON COLUMN workshop.short_board_mm IS 'shortest board that is of use, mm';
COMMENT ON COLUMN workshop.mill_hour_cost_minor IS 'an hour at the mill: hands, fuel and blades, minor units';
COMMENT ON COLUMN workshop.mill_min_m3 IS 'minutes at the mill for a cubic metre of log, until the logs tell';
COMMENT ON COLUMN log.wish IS 'what is wanted of it: sizes, their values, shortest board, heart box; none: the usual';
COMMENT ON COLUMN log.expected IS 'what it was expected to give when it was sawn';
COMMENT ON COLUMN log.expected_m3 IS 'boards by the drawing, m3, green';
COMMENT ON COLUMN log.real_m3 IS 'boards that came, m3, green';
COMMENT ON COLUMN log.sawing_minor IS 'what the sawing cost, minor units';
COMMENT ON TABLE log_board IS 'The boards that came of a log on its sawing day.';
COMMENT ON COLUMN log_board.board_size_id IS 'green size';
COMMENT ON COLUMN log_board.length_mm IS 'mm';
