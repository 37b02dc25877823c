-- What comes after a handover: the guarantee as printed, losses with their day, claims with what they are about, what is ready and not fetched.

CREATE TABLE after_care (
    id bigint PRIMARY KEY DEFAULT 1 CONSTRAINT after_care_single CHECK (id = 1),
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    guarantee_box_days int NOT NULL CONSTRAINT after_care_box_days CHECK (guarantee_box_days BETWEEN 0 AND 36500),
    guarantee_colony_days int NOT NULL CONSTRAINT after_care_colony_days CHECK (guarantee_colony_days BETWEEN 0 AND 36500),
    fetch_days int[] NOT NULL CONSTRAINT after_care_fetch_days CHECK (cardinality(fetch_days) <= 20),
    fetch_terms prose NOT NULL
);
SELECT keep_record('after_care');
COMMENT ON TABLE after_care IS 'One row: how long the guarantee runs, and when a buyer is reminded to fetch what is ready.';
COMMENT ON COLUMN after_care.guarantee_box_days IS 'days after the handover';
COMMENT ON COLUMN after_care.guarantee_colony_days IS 'days after the handover';
COMMENT ON COLUMN after_care.fetch_days IS 'days after it was ready to be fetched, one for each reminder';
COMMENT ON COLUMN after_care.fetch_terms IS 'the terms that the last reminder prints';

ALTER TABLE handover
    ADD COLUMN mass_kg numeric(6,2) CONSTRAINT handover_mass CHECK (mass_kg > 0 AND mass_kg < 500),
    ADD COLUMN guarantee prose NOT NULL DEFAULT '',
    ADD COLUMN guarantee_box_until date,
    ADD COLUMN guarantee_colony_until date;
COMMENT ON COLUMN handover.mass_kg IS 'of the whole hive as weighed, kg';
COMMENT ON COLUMN handover.guarantee IS 'its terms as printed on the sheet';
COMMENT ON COLUMN handover.guarantee_box_until IS 'last day';
COMMENT ON COLUMN handover.guarantee_colony_until IS 'last day';

ALTER TABLE follow_up ADD COLUMN lost_on date;
COMMENT ON COLUMN follow_up.lost_on IS 'when it was lost, as far as the buyer knows';

ALTER TABLE guarantee_claim
    ADD COLUMN about text NOT NULL DEFAULT 'box' CONSTRAINT guarantee_claim_about CHECK (about IN ('box', 'colony')),
    ADD COLUMN until_on date,
    ADD COLUMN decided_by words NOT NULL DEFAULT '';
CREATE INDEX guarantee_claim_handover ON guarantee_claim (handover_id);
COMMENT ON COLUMN guarantee_claim.until_on IS 'last day of the guarantee it asks for; NULL: not known';

CREATE TABLE fetch_reminder (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    order_id bigint NOT NULL REFERENCES sale_order,
    ready_on date NOT NULL,
    after_days int NOT NULL CONSTRAINT fetch_reminder_days CHECK (after_days BETWEEN 0 AND 3650),
    told_at timestamptz NOT NULL,
    words prose NOT NULL,
    CONSTRAINT fetch_reminder_once UNIQUE (order_id, ready_on, after_days)
);
SELECT keep_record('fetch_reminder');
COMMENT ON TABLE fetch_reminder IS 'A buyer was reminded to fetch what is ready.';
COMMENT ON COLUMN fetch_reminder.ready_on IS 'since when it could be fetched';
COMMENT ON COLUMN fetch_reminder.after_days IS 'the day of the settings it was for';
COMMENT ON COLUMN fetch_reminder.words IS 'as they were sent';
