-- Colonies, where they live, where they come from, and who waits for one.

CREATE TABLE bee_species (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    code text NOT NULL CONSTRAINT bee_species_code_once UNIQUE,
    name words NOT NULL,
    common_name words NOT NULL DEFAULT '',
    natural_range prose NOT NULL DEFAULT '',
    range_regions jsonb NOT NULL DEFAULT '[]',
    split_months int[] NOT NULL DEFAULT '{}',
    split_interval_months int CONSTRAINT bee_species_interval CHECK (split_interval_months BETWEEN 1 AND 60),
    split_chance_pct numeric(5,2) NOT NULL DEFAULT 80 CONSTRAINT bee_species_chance CHECK (split_chance_pct BETWEEN 0 AND 100),
    flight_min_c numeric(4,1),
    heat_limit_c numeric(4,1),
    cold_limit_c numeric(4,1),
    flight_range_m int CONSTRAINT bee_species_flight CHECK (flight_range_m BETWEEN 1 AND 20000),
    longest_closed_hours int CONSTRAINT bee_species_closed CHECK (longest_closed_hours BETWEEN 1 AND 240),
    settling_weeks int CONSTRAINT bee_species_settling CHECK (settling_weeks BETWEEN 0 AND 104),
    sources jsonb NOT NULL DEFAULT '{}',
    put_away_at timestamptz
);

CREATE TABLE host_tree (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    name words NOT NULL,
    site_id bigint REFERENCES site,
    owner_party_id bigint REFERENCES party,
    permission words NOT NULL DEFAULT '',
    bee_species_id bigint REFERENCES bee_species,
    box_id bigint REFERENCES box,
    fixed_on date,
    box_leaves boolean NOT NULL DEFAULT true,
    next_visit_on date,
    notes prose NOT NULL DEFAULT '',
    put_away_at timestamptz
);
CREATE TABLE host_tree_visit (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    host_tree_id bigint NOT NULL REFERENCES host_tree,
    happened_at timestamptz NOT NULL,
    recorded_at timestamptz NOT NULL DEFAULT now(),
    seen prose NOT NULL
);
CREATE TABLE permit (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    number words NOT NULL,
    authority words NOT NULL,
    what words NOT NULL DEFAULT '',
    ends_on date
);

CREATE TABLE colony (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    number text NOT NULL CONSTRAINT colony_number_once UNIQUE,
    name words NOT NULL DEFAULT '',
    began_on date,
    began_about words NOT NULL DEFAULT '',
    origin prose NOT NULL DEFAULT '',
    settled_on date,
    settles_about date,
    held_back_because words NOT NULL DEFAULT '',
    ended_at timestamptz,
    ended_how words NOT NULL DEFAULT '',
    notes prose NOT NULL DEFAULT '',
    recorded_at timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT colony_end CHECK ((ended_at IS NULL) = (ended_how = ''))
);
CREATE INDEX colony_living ON colony (id) WHERE ended_at IS NULL;

CREATE TABLE colony_species (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    colony_id bigint NOT NULL REFERENCES colony,
    bee_species_id bigint NOT NULL REFERENCES bee_species,
    found_on date NOT NULL,
    sure boolean NOT NULL DEFAULT true,
    found_by words NOT NULL DEFAULT '',
    recorded_at timestamptz NOT NULL DEFAULT now()
);
CREATE INDEX colony_species_latest ON colony_species (colony_id, found_on DESC, id DESC);

CREATE TABLE colony_parent (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    colony_id bigint NOT NULL REFERENCES colony,
    parent_id bigint NOT NULL REFERENCES colony,
    kind text NOT NULL CONSTRAINT colony_parent_kind CHECK (kind IN ('split', 'brood given', 'united')),
    happened_on date,
    CONSTRAINT colony_parent_once UNIQUE (colony_id, parent_id, kind),
    CONSTRAINT colony_parent_not_itself CHECK (colony_id <> parent_id)
);
CREATE INDEX colony_parent_of ON colony_parent (parent_id);
CREATE FUNCTION refuse_ring() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM pg_advisory_xact_lock(7213001);
    IF EXISTS (
        WITH RECURSIVE up (id) AS (
            SELECT NEW.parent_id
            UNION SELECT p.parent_id FROM colony_parent p JOIN up ON p.colony_id = up.id)
        SELECT 1 FROM up WHERE id = NEW.colony_id) THEN
        RAISE EXCEPTION 'a colony cannot be its own ancestor' USING ERRCODE = 'check_violation', CONSTRAINT = 'colony_parent_no_ring';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER no_ring BEFORE INSERT OR UPDATE ON colony_parent FOR EACH ROW EXECUTE FUNCTION refuse_ring();

CREATE TABLE housing (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    colony_id bigint NOT NULL REFERENCES colony,
    dwelling text NOT NULL CONSTRAINT housing_dwelling CHECK (dwelling IN ('box', 'log', 'tree', 'other')),
    box_id bigint REFERENCES box,
    host_tree_id bigint REFERENCES host_tree,
    description words NOT NULL DEFAULT '',
    from_at timestamptz NOT NULL,
    from_about words NOT NULL DEFAULT '',
    to_at timestamptz,
    recorded_at timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT housing_box CHECK ((dwelling = 'box') = (box_id IS NOT NULL)),
    CONSTRAINT housing_forward CHECK (to_at >= from_at)
);
CREATE UNIQUE INDEX housing_one_a_colony ON housing (colony_id) WHERE to_at IS NULL;
CREATE UNIQUE INDEX housing_one_a_box ON housing (box_id) WHERE to_at IS NULL;

CREATE TABLE colony_owner (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    colony_id bigint NOT NULL REFERENCES colony,
    party_id bigint REFERENCES party,
    from_at timestamptz NOT NULL,
    to_at timestamptz,
    CONSTRAINT colony_owner_forward CHECK (to_at >= from_at)
);
CREATE UNIQUE INDEX colony_owner_one_now ON colony_owner (colony_id) WHERE to_at IS NULL;

CREATE TABLE colony_keeper (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    colony_id bigint NOT NULL REFERENCES colony,
    party_id bigint REFERENCES party,
    agreed prose NOT NULL DEFAULT '',
    from_at timestamptz NOT NULL,
    to_at timestamptz,
    CONSTRAINT colony_keeper_forward CHECK (to_at >= from_at)
);
CREATE UNIQUE INDEX colony_keeper_one_now ON colony_keeper (colony_id) WHERE to_at IS NULL;

CREATE TABLE colony_place (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    colony_id bigint NOT NULL REFERENCES colony,
    site_id bigint REFERENCES site,
    place words NOT NULL DEFAULT '',
    from_at timestamptz NOT NULL,
    to_at timestamptz,
    CONSTRAINT colony_place_forward CHECK (to_at >= from_at)
);
CREATE UNIQUE INDEX colony_place_one_now ON colony_place (colony_id) WHERE to_at IS NULL;

CREATE TABLE colony_event (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    colony_id bigint NOT NULL REFERENCES colony,
    kind text NOT NULL CONSTRAINT colony_event_kind CHECK (kind IN ('split', 'brood given', 'united', 'moved', 'fed', 'weighed', 'inspected', 'pests', 'lost', 'settled', 'held back', 'released', 'note')),
    happened_at timestamptz NOT NULL,
    recorded_at timestamptz NOT NULL DEFAULT now(),
    mass_kg numeric(6,2) CONSTRAINT colony_event_mass CHECK (mass_kg > 0 AND mass_kg < 500),
    note prose NOT NULL DEFAULT ''
);
CREATE INDEX colony_event_of ON colony_event (colony_id, happened_at DESC);

CREATE TABLE split_plan (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    parent_id bigint NOT NULL REFERENCES colony,
    planned_on date NOT NULL,
    done_at timestamptz,
    given_up_at timestamptz,
    child_id bigint REFERENCES colony,
    CONSTRAINT split_plan_one_end CHECK (done_at IS NULL OR given_up_at IS NULL)
);

CREATE TABLE line_move (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    order_unit_id bigint NOT NULL REFERENCES order_unit,
    before_unit_id bigint REFERENCES order_unit,
    reason words NOT NULL CONSTRAINT line_move_reason CHECK (length(trim(reason)) > 0),
    at timestamptz NOT NULL DEFAULT now()
);

CREATE TABLE movement (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    colony_id bigint NOT NULL REFERENCES colony,
    from_place words NOT NULL,
    to_place words NOT NULL,
    from_site_id bigint REFERENCES site,
    to_site_id bigint REFERENCES site,
    to_party_id bigint REFERENCES party,
    permit_id bigint REFERENCES permit,
    happened_at timestamptz NOT NULL,
    recorded_at timestamptz NOT NULL DEFAULT now(),
    note words NOT NULL DEFAULT ''
);
CREATE INDEX movement_when ON movement (happened_at DESC, id DESC);
CREATE TRIGGER written_once BEFORE UPDATE OR DELETE ON movement FOR EACH ROW EXECUTE FUNCTION refuse_change();

ALTER TABLE quote_line ADD CONSTRAINT quote_line_bees FOREIGN KEY (bee_species_id) REFERENCES bee_species;
ALTER TABLE order_line ADD CONSTRAINT order_line_bees FOREIGN KEY (bee_species_id) REFERENCES bee_species;

SELECT keep_record('bee_species'), keep_record('host_tree'), keep_record('host_tree_visit'), keep_record('permit'), keep_record('colony'), keep_record('colony_species'),
    keep_record('colony_parent'), keep_record('housing'), keep_record('colony_owner'), keep_record('colony_keeper'), keep_record('colony_place'), keep_record('split_plan');

COMMENT ON TABLE bee_species IS 'Kinds of bees: figures are data, each with its source.';
COMMENT ON COLUMN bee_species.name IS 'scientific';
COMMENT ON COLUMN bee_species.range_regions IS 'states or regions of the natural range, short codes';
COMMENT ON COLUMN bee_species.split_months IS 'months in the workshop''s hemisphere, 1 to 12';
COMMENT ON COLUMN bee_species.split_interval_months IS 'months';
COMMENT ON COLUMN bee_species.split_chance_pct IS 'percent of splits that settle';
COMMENT ON COLUMN bee_species.flight_min_c IS 'no flight below this air temperature, degrees Celsius';
COMMENT ON COLUMN bee_species.heat_limit_c IS 'protect from this air temperature up, degrees Celsius';
COMMENT ON COLUMN bee_species.cold_limit_c IS 'protect below this night temperature, degrees Celsius';
COMMENT ON COLUMN bee_species.flight_range_m IS 'metres';
COMMENT ON COLUMN bee_species.longest_closed_hours IS 'hours with the entrance closed';
COMMENT ON COLUMN bee_species.settling_weeks IS 'weeks from split to settled';
COMMENT ON COLUMN bee_species.sources IS 'source of each figure, by column';
COMMENT ON TABLE host_tree IS 'A hollow tree that colonies are drawn from.';
COMMENT ON COLUMN host_tree.permission IS 'who allowed it, when';
COMMENT ON COLUMN host_tree.box_id IS 'the box fixed to it';
COMMENT ON COLUMN host_tree.box_leaves IS 'when settled the box leaves and the tree keeps its bees';
COMMENT ON TABLE host_tree_visit IS 'What was seen at a visit to a host tree.';
COMMENT ON TABLE permit IS 'Permits: number, authority, end.';
COMMENT ON TABLE colony IS 'A colony of bees.';
COMMENT ON COLUMN colony.began_about IS 'such as about 1961, where the day is not known';
COMMENT ON COLUMN colony.origin IS 'where from and with whose permission';
COMMENT ON COLUMN colony.settled_on IS 'ready to go from this day, as seen';
COMMENT ON COLUMN colony.settles_about IS 'expected, while it is not seen yet';
COMMENT ON COLUMN colony.held_back_because IS 'disease, inspection: not promised, moved or split';
COMMENT ON TABLE colony_species IS 'Which species it is: a finding with a day, sure or not.';
COMMENT ON TABLE colony_parent IS 'A parent of a colony; zero to several, no rings.';
COMMENT ON TABLE housing IS 'Where a colony lives: housing is an event.';
COMMENT ON TABLE colony_owner IS 'Whose colony it is, dated.';
COMMENT ON COLUMN colony_owner.party_id IS 'none: the workshop';
COMMENT ON TABLE colony_keeper IS 'In whose keeping it is, dated, with what was agreed.';
COMMENT ON COLUMN colony_keeper.party_id IS 'none: the workshop';
COMMENT ON TABLE colony_place IS 'Where the colony is, dated.';
COMMENT ON TABLE colony_event IS 'What happened to a colony.';
COMMENT ON COLUMN colony_event.mass_kg IS 'of the whole hive, kg';
COMMENT ON TABLE split_plan IS 'A split that is planned: the colonies to come.';
COMMENT ON TABLE line_move IS 'A move in the line of those who wait, with its reason.';
COMMENT ON TABLE movement IS 'Every move of bees from place to place: from, to, when, how many, permit.';
