-- Whose box it is through many hands, what was reported stolen, and the permit a move was made under.

ALTER TABLE box_owner ADD note words NOT NULL DEFAULT '', ADD recorded_at timestamptz;
ALTER TABLE box_owner ALTER recorded_at SET DEFAULT now();
COMMENT ON COLUMN box_owner.note IS 'how it came to them, and who told';
COMMENT ON COLUMN box_owner.recorded_at IS 'when it was written down; empty: before this was kept';

CREATE TABLE box_report (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    box_id bigint NOT NULL REFERENCES box,
    stolen_at timestamptz NOT NULL,
    reported_by words NOT NULL CONSTRAINT box_report_by CHECK (length(trim(reported_by)) > 0),
    police_reference words NOT NULL DEFAULT '',
    note prose NOT NULL DEFAULT '',
    recorded_at timestamptz NOT NULL DEFAULT now(),
    recovered_at timestamptz,
    recovered_how words NOT NULL DEFAULT '',
    CONSTRAINT box_report_forward CHECK (recovered_at >= stolen_at)
);
CREATE UNIQUE INDEX box_report_one_open ON box_report (box_id) WHERE recovered_at IS NULL;
CREATE INDEX box_report_box ON box_report (box_id, id);
SELECT keep_record('box_report');
INSERT INTO box_report (box_id, stolen_at, reported_by) SELECT id, stolen_at, 'the workshop' FROM box WHERE stolen_at IS NOT NULL;
COMMENT ON TABLE box_report IS 'A box that was reported stolen, and that it was found again; box.stolen_at stands while a report is open.';
COMMENT ON COLUMN box_report.stolen_at IS 'gone since, or when it was missed';
COMMENT ON COLUMN box_report.reported_by IS 'who told the workshop';
COMMENT ON COLUMN box_report.recovered_at IS 'empty: not found';

CREATE TABLE box_asked (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    box_id bigint NOT NULL REFERENCES box,
    at timestamptz NOT NULL DEFAULT now()
);
CREATE INDEX box_asked_lately ON box_asked (box_id, at);
COMMENT ON TABLE box_asked IS 'The serial of a stolen box was typed into the public page; of who typed it nothing is kept.';
COMMENT ON TABLE sign_in_failure IS 'Failed sign-ins and serials typed into the public page, for throttling by name and by address.';

ALTER TABLE movement ADD permit_number words NOT NULL DEFAULT '';
CREATE INDEX movement_colony ON movement (colony_id, happened_at);
COMMENT ON COLUMN movement.permit_number IS 'of the permit, health certificate or notice, where one is needed; may be filled in once, later';

-- A move is written once; only a permit's number that was not at hand may be added.
CREATE FUNCTION movement_written_once() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF TG_OP = 'UPDATE' AND OLD.permit_number = '' AND OLD.permit_id IS NULL AND
        (to_jsonb(NEW) - 'permit_number' - 'permit_id') = (to_jsonb(OLD) - 'permit_number' - 'permit_id') THEN
        RETURN NEW;
    END IF;
    RAISE EXCEPTION 'movement rows are written once' USING ERRCODE = 'restrict_violation', CONSTRAINT = 'movement_written_once';
END $$;
DROP TRIGGER written_once ON movement;
CREATE TRIGGER written_once BEFORE UPDATE OR DELETE ON movement FOR EACH ROW EXECUTE FUNCTION movement_written_once();
SELECT keep_record('movement');
