-- Runs, handovers, follow-ups and guarantee claims.

CREATE TABLE run (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    number text NOT NULL CONSTRAINT run_number_once UNIQUE,
    run_on date NOT NULL,
    kind text NOT NULL DEFAULT 'delivery' CONSTRAINT run_kind CHECK (kind IN ('delivery', 'collection', 'visits')),
    driver words NOT NULL DEFAULT '',
    km numeric(8,1) CONSTRAINT run_km CHECK (km >= 0),
    forecast_c numeric(4,1),
    done_at timestamptz,
    put_off_because words NOT NULL DEFAULT '',
    cancelled_at timestamptz,
    notes prose NOT NULL DEFAULT ''
);
CREATE INDEX run_day ON run (run_on, id);
CREATE TABLE run_stop (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    run_id bigint NOT NULL REFERENCES run,
    position int NOT NULL CONSTRAINT run_stop_position CHECK (position >= 1),
    order_unit_id bigint REFERENCES order_unit,
    colony_id bigint REFERENCES colony,
    host_tree_id bigint REFERENCES host_tree,
    site_id bigint REFERENCES site,
    what words NOT NULL DEFAULT '',
    mass_kg numeric(6,1) CONSTRAINT run_stop_mass CHECK (mass_kg >= 0),
    closed_at timestamptz,
    opened_at timestamptz,
    done_at timestamptz,
    CONSTRAINT run_stop_once UNIQUE (run_id, position) DEFERRABLE INITIALLY DEFERRED,
    CONSTRAINT run_stop_opened_after CHECK (opened_at >= closed_at)
);
CREATE INDEX run_stop_unit ON run_stop (order_unit_id) WHERE order_unit_id IS NOT NULL;
CREATE INDEX run_stop_closed ON run_stop (closed_at) WHERE closed_at IS NOT NULL AND opened_at IS NULL;

CREATE TABLE handover (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    number text NOT NULL CONSTRAINT handover_number_once UNIQUE,
    order_unit_id bigint NOT NULL REFERENCES order_unit,
    run_stop_id bigint REFERENCES run_stop,
    box_id bigint REFERENCES box,
    colony_id bigint REFERENCES colony,
    site_id bigint REFERENCES site,
    happened_at timestamptz NOT NULL,
    recorded_at timestamptz NOT NULL DEFAULT now(),
    received_by words NOT NULL CONSTRAINT handover_received_by CHECK (length(trim(received_by)) > 0),
    bees_in int CONSTRAINT handover_bees_in CHECK (bees_in BETWEEN 0 AND 1000),
    bees_out int CONSTRAINT handover_bees_out CHECK (bees_out BETWEEN 0 AND 1000),
    document_id bigint REFERENCES document,
    care_key text CONSTRAINT handover_care_key_once UNIQUE,
    note prose NOT NULL DEFAULT '',
    undone_at timestamptz,
    undone_because words NOT NULL DEFAULT ''
);
CREATE UNIQUE INDEX handover_one_a_unit ON handover (order_unit_id) WHERE undone_at IS NULL;
CREATE INDEX handover_box ON handover (box_id);
CREATE INDEX handover_when ON handover (happened_at DESC, id DESC);

CREATE TABLE follow_up (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    handover_id bigint NOT NULL REFERENCES handover,
    due_on date NOT NULL,
    answered_at timestamptz,
    answer text CONSTRAINT follow_up_answer CHECK (answer IN ('alive', 'weak', 'lost', 'unknown')),
    why words NOT NULL DEFAULT '',
    CONSTRAINT follow_up_once UNIQUE (handover_id, due_on),
    CONSTRAINT follow_up_answered CHECK ((answer IS NULL) = (answered_at IS NULL))
);
CREATE INDEX follow_up_due ON follow_up (due_on, id) WHERE answered_at IS NULL;

CREATE TABLE guarantee_claim (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    handover_id bigint NOT NULL REFERENCES handover,
    happened_at timestamptz NOT NULL,
    recorded_at timestamptz NOT NULL DEFAULT now(),
    what prose NOT NULL,
    decided_at timestamptz,
    decision text CONSTRAINT guarantee_claim_decision CHECK (decision IN ('replaced', 'repaired', 'refunded', 'declined')),
    cost_minor bigint CONSTRAINT guarantee_claim_cost CHECK (cost_minor >= 0),
    note words NOT NULL DEFAULT '',
    CONSTRAINT guarantee_claim_decided CHECK ((decision IS NULL) = (decided_at IS NULL))
);
SELECT keep_record('run'), keep_record('run_stop'), keep_record('handover'), keep_record('follow_up'), keep_record('guarantee_claim');

COMMENT ON TABLE run IS 'A day''s deliveries and pick-ups.';
COMMENT ON COLUMN run.km IS 'planned, km';
COMMENT ON COLUMN run.forecast_c IS 'typed forecast of the day''s heat, degrees Celsius';
COMMENT ON TABLE run_stop IS 'A stop of a run.';
COMMENT ON COLUMN run_stop.mass_kg IS 'load for this stop, kg';
COMMENT ON COLUMN run_stop.closed_at IS 'entrance closed';
COMMENT ON COLUMN run_stop.opened_at IS 'entrance opened';
COMMENT ON TABLE handover IS 'A unit given to its buyer, with the evidence.';
COMMENT ON COLUMN handover.bees_in IS 'bees in, in a minute';
COMMENT ON COLUMN handover.bees_out IS 'bees out, in a minute';
COMMENT ON COLUMN handover.document_id IS 'the sheet as printed';
COMMENT ON COLUMN handover.care_key IS 'unguessable key of the public care page';
COMMENT ON TABLE follow_up IS 'A question to ask some days after a handover; no answer is unknown, not alive.';
COMMENT ON TABLE guarantee_claim IS 'A claim on the guarantee, with the owner''s decision and its cost.';
COMMENT ON COLUMN guarantee_claim.cost_minor IS 'minor units';
