-- Others' hives and boxes in the workshop's keeping: what was agreed, and when they are due back.

CREATE TABLE keeping (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    colony_id bigint REFERENCES colony,
    box_id bigint REFERENCES box,
    party_id bigint NOT NULL REFERENCES party,
    purpose text NOT NULL CONSTRAINT keeping_purpose CHECK (purpose IN ('split', 'repair', 'minding', 'other')),
    agreed prose NOT NULL DEFAULT '',
    price_minor bigint CONSTRAINT keeping_price CHECK (price_minor >= 0),
    came_at timestamptz NOT NULL,
    back_on date,
    ended_at timestamptz,
    ended_how text CONSTRAINT keeping_ended_how CHECK (ended_how IN ('back', 'kept', 'lost')),
    ended_note words NOT NULL DEFAULT '',
    recorded_at timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT keeping_one_thing CHECK (num_nonnulls(colony_id, box_id) = 1),
    CONSTRAINT keeping_end CHECK ((ended_at IS NULL) = (ended_how IS NULL)),
    CONSTRAINT keeping_forward CHECK (ended_at >= came_at)
);
CREATE UNIQUE INDEX keeping_one_a_colony ON keeping (colony_id) WHERE ended_at IS NULL AND colony_id IS NOT NULL;
CREATE UNIQUE INDEX keeping_one_a_box ON keeping (box_id) WHERE ended_at IS NULL AND box_id IS NOT NULL;
CREATE INDEX keeping_open ON keeping (back_on) WHERE ended_at IS NULL;
SELECT keep_record('keeping');

INSERT INTO keeping (colony_id, party_id, purpose, agreed, came_at)
SELECT k.colony_id, o.party_id, 'other', k.agreed, k.from_at FROM colony_keeper k JOIN colony_owner o ON o.colony_id = k.colony_id AND o.to_at IS NULL AND o.party_id IS NOT NULL JOIN colony c ON c.id = k.colony_id AND c.ended_at IS NULL
WHERE k.to_at IS NULL AND k.party_id IS NULL ORDER BY k.id;

COMMENT ON TABLE keeping IS 'A hive or a box of somebody else in the workshop''s keeping: to be split, repaired or minded.';
COMMENT ON COLUMN keeping.colony_id IS 'the colony, with the box it lives in';
COMMENT ON COLUMN keeping.box_id IS 'a box without bees';
COMMENT ON COLUMN keeping.party_id IS 'whose it is';
COMMENT ON COLUMN keeping.agreed IS 'what was agreed, in words';
COMMENT ON COLUMN keeping.price_minor IS 'agreed, with tax, minor units; empty: none';
COMMENT ON COLUMN keeping.back_on IS 'to be back with its owner; empty: no day was agreed';
COMMENT ON COLUMN keeping.ended_how IS 'back: with its owner; kept: the workshop''s now, as agreed; lost: it died or broke here, and the owner knows';
COMMENT ON COLUMN keeping.ended_note IS 'who took it, or why';
COMMENT ON COLUMN colony_keeper.agreed IS 'with somebody who keeps a colony of the workshop; what was agreed of others'' hives here stands in keeping';
