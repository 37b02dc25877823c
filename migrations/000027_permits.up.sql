-- Permits with their kind, what they cover and from when to when; trees, colonies and stops of runs name the one they stand under.

ALTER TABLE permit
    ADD COLUMN kind text NOT NULL DEFAULT 'other' CONSTRAINT permit_kind CHECK (kind IN ('take', 'keep', 'move', 'sell', 'land', 'other')),
    ADD COLUMN from_on date,
    ADD COLUMN warn_days int NOT NULL DEFAULT 30 CONSTRAINT permit_warn_days CHECK (warn_days BETWEEN 0 AND 365),
    ADD COLUMN notes prose NOT NULL DEFAULT '',
    ADD COLUMN put_away_at timestamptz,
    ADD CONSTRAINT permit_number CHECK (length(trim(number)) > 0),
    ADD CONSTRAINT permit_forward CHECK (ends_on >= from_on);
CREATE INDEX permit_ending ON permit (ends_on, id) WHERE put_away_at IS NULL;

ALTER TABLE host_tree ADD COLUMN permit_id bigint REFERENCES permit;
ALTER TABLE colony ADD COLUMN permit_id bigint REFERENCES permit;
ALTER TABLE run_stop ADD COLUMN permit_id bigint REFERENCES permit;
CREATE INDEX host_tree_permit ON host_tree (permit_id) WHERE permit_id IS NOT NULL;
CREATE INDEX colony_permit ON colony (permit_id) WHERE permit_id IS NOT NULL;
CREATE INDEX run_stop_permit ON run_stop (permit_id) WHERE permit_id IS NOT NULL;
CREATE INDEX movement_permit ON movement (permit_id) WHERE permit_id IS NOT NULL;

COMMENT ON TABLE permit IS 'Permits: number, authority, what they cover, from and to.';
COMMENT ON COLUMN permit.kind IS 'what it allows: taking bees, keeping, moving, selling them, or entering land';
COMMENT ON COLUMN permit.what IS 'what it covers, in words: kinds of bees, places, how many';
COMMENT ON COLUMN permit.from_on IS 'first day on which it holds; none: not noted';
COMMENT ON COLUMN permit.ends_on IS 'last day on which it holds; none: it has no end';
COMMENT ON COLUMN permit.warn_days IS 'days before the end from which the Day sheet says so';
COMMENT ON COLUMN host_tree.permit_id IS 'the permit under which bees are drawn from it';
COMMENT ON COLUMN colony.permit_id IS 'the permit under which it was taken';
COMMENT ON COLUMN run_stop.permit_id IS 'the permit under which its bees travel or are taken';
