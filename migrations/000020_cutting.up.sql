-- Builds that are cut together, boards as they were really cut, and batches finished in parts.

CREATE TABLE cutting (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    laid_at timestamptz NOT NULL DEFAULT now(),
    accepted_at timestamptz,
    ended_at timestamptz,
    pinned jsonb NOT NULL DEFAULT '[]',
    left_out jsonb NOT NULL DEFAULT '[]',
    best jsonb
);
CREATE TABLE cutting_build (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    cutting_id bigint NOT NULL REFERENCES cutting,
    build_id bigint NOT NULL REFERENCES build,
    left_at timestamptz
);
CREATE UNIQUE INDEX cutting_build_one ON cutting_build (build_id) WHERE left_at IS NULL;
CREATE INDEX cutting_build_of ON cutting_build (cutting_id, build_id);

ALTER TABLE cutting_plan ADD COLUMN cutting_id bigint REFERENCES cutting,
    ADD COLUMN grade text NOT NULL DEFAULT 'knotty' CONSTRAINT cutting_plan_grade CHECK (grade IN ('clear', 'sound', 'knotty'));
CREATE INDEX cutting_plan_of ON cutting_plan (cutting_id, id);

CREATE TABLE board_cut (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    build_id bigint NOT NULL REFERENCES build,
    plan_id bigint REFERENCES cutting_plan,
    layout int,
    lot_id bigint NOT NULL REFERENCES board_lot,
    boards int NOT NULL CONSTRAINT board_cut_boards CHECK (boards >= 1),
    cost_minor bigint NOT NULL DEFAULT 0 CONSTRAINT board_cut_cost CHECK (cost_minor >= 0),
    cut_at timestamptz NOT NULL,
    recorded_at timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT board_cut_of_plan CHECK ((plan_id IS NULL) = (layout IS NULL))
);
CREATE INDEX board_cut_plan ON board_cut (plan_id) WHERE plan_id IS NOT NULL;
CREATE INDEX board_cut_build ON board_cut (build_id);
CREATE TRIGGER written_once BEFORE UPDATE OR DELETE ON board_cut FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TABLE cut_part (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    board_cut_id bigint NOT NULL REFERENCES board_cut,
    build_id bigint NOT NULL REFERENCES build,
    part words NOT NULL,
    count int NOT NULL CONSTRAINT cut_part_count CHECK (count >= 1),
    length_mm numeric(8,1) NOT NULL CONSTRAINT cut_part_length CHECK (length_mm > 0)
);
CREATE INDEX cut_part_build ON cut_part (build_id);
CREATE INDEX cut_part_cut ON cut_part (board_cut_id);
CREATE TRIGGER written_once BEFORE UPDATE OR DELETE ON cut_part FOR EACH ROW EXECUTE FUNCTION refuse_change();

ALTER TABLE build ADD COLUMN true_wall_mm numeric(8,1) CONSTRAINT build_true_wall CHECK (true_wall_mm > 0),
    ADD COLUMN borne_minor bigint NOT NULL DEFAULT 0;
ALTER TABLE build_output ADD COLUMN finished_at timestamptz;
UPDATE build_output o SET finished_at = b.finished_at FROM build b WHERE b.id = o.build_id AND o.spoiled_at IS NULL AND b.finished_at IS NOT NULL;

-- Each plan laid so far is of one build alone.
DO $$
DECLARE
    one record;
    made bigint;
BEGIN
    FOR one IN SELECT p.build_id, max(p.laid_at) AS laid_at, max(p.accepted_at) AS accepted_at FROM cutting_plan p JOIN build b ON b.id = p.build_id
        WHERE p.replaced_at IS NULL AND b.finished_at IS NULL AND b.cancelled_at IS NULL GROUP BY p.build_id ORDER BY p.build_id
    LOOP
        INSERT INTO cutting (laid_at, accepted_at) VALUES (one.laid_at, one.accepted_at) RETURNING id INTO made;
        INSERT INTO cutting_build (cutting_id, build_id) VALUES (made, one.build_id);
        UPDATE cutting_plan SET cutting_id = made WHERE build_id = one.build_id AND replaced_at IS NULL;
    END LOOP;
END $$;

SELECT keep_record('cutting');

COMMENT ON TABLE cutting IS 'One or several builds whose boards are cut together.';
COMMENT ON COLUMN cutting.accepted_at IS 'when its boards were put aside; none: they are meant';
COMMENT ON COLUMN cutting.ended_at IS 'when the last of its builds left it';
COMMENT ON COLUMN cutting.pinned IS 'ids of lots that the maker wants used';
COMMENT ON COLUMN cutting.left_out IS 'list of {lot_id, count}: boards that the maker leaves out; count 0 is all';
COMMENT ON COLUMN cutting.best IS 'what the best plan without the maker''s choice would take: boards, length_mm, cost_minor, missing_mm';
COMMENT ON TABLE cutting_build IS 'Which builds are cut together; a build is in one cutting at a time.';
COMMENT ON COLUMN cutting_plan.cutting_id IS 'the cutting it was laid for';
COMMENT ON COLUMN cutting_plan.grade IS 'poorest grade that its parts allow';
COMMENT ON TABLE board_cut IS 'Boards that were really cut, booked out with their offcuts.';
COMMENT ON COLUMN board_cut.build_id IS 'for which they were put aside';
COMMENT ON COLUMN board_cut.layout IS 'which layout of the plan, from 0';
COMMENT ON COLUMN board_cut.cost_minor IS 'of all these boards less their offcuts, minor units';
COMMENT ON TABLE cut_part IS 'Parts that came from boards that were cut, and for which build.';
COMMENT ON COLUMN cut_part.length_mm IS 'of one, mm';
COMMENT ON COLUMN build.true_wall_mm IS 'true thickness of the boards its part lengths are reckoned with, mm; none: the model''s wall';
COMMENT ON COLUMN build.borne_minor IS 'cost that pieces finished before the rest bear already, minor units';
COMMENT ON COLUMN build_output.finished_at IS 'when this piece was done';
