-- Host trees by the dozen: where they stand, from when to when the owner allows it, how often to come, and what was drawn from them.

ALTER TABLE bee_species
    ADD COLUMN tree_visit_days int CONSTRAINT bee_species_tree_visit CHECK (tree_visit_days BETWEEN 1 AND 730),
    ADD COLUMN tree_visit_cold_days int CONSTRAINT bee_species_tree_visit_cold CHECK (tree_visit_cold_days BETWEEN 1 AND 730);
ALTER TABLE host_tree
    ADD COLUMN place words NOT NULL DEFAULT '',
    ADD COLUMN latitude double precision CONSTRAINT host_tree_latitude CHECK (latitude BETWEEN -90 AND 90),
    ADD COLUMN longitude double precision CONSTRAINT host_tree_longitude CHECK (longitude BETWEEN -180 AND 180),
    ADD COLUMN permission_on date,
    ADD COLUMN permission_until date,
    ADD COLUMN visit_every_days int CONSTRAINT host_tree_every CHECK (visit_every_days BETWEEN 1 AND 730),
    ADD COLUMN settled_on date,
    ADD COLUMN colony_id bigint REFERENCES colony,
    ADD COLUMN put_away_because words NOT NULL DEFAULT '',
    ADD CONSTRAINT host_tree_both_coordinates CHECK ((latitude IS NULL) = (longitude IS NULL)),
    ADD CONSTRAINT host_tree_permission_forward CHECK (permission_until >= permission_on);
ALTER TABLE host_tree_visit
    ADD COLUMN found text NOT NULL DEFAULT 'other' CONSTRAINT host_tree_visit_found CHECK (found IN ('passing', 'wax', 'brood', 'ready', 'quiet', 'blocked', 'harm', 'other'));
ALTER TABLE colony ADD COLUMN host_tree_id bigint REFERENCES host_tree;
CREATE INDEX host_tree_visit_of ON host_tree_visit (host_tree_id, happened_at DESC, id DESC);
CREATE INDEX host_tree_box ON host_tree (box_id) WHERE box_id IS NOT NULL AND put_away_at IS NULL;
CREATE INDEX colony_of_tree ON colony (host_tree_id) WHERE host_tree_id IS NOT NULL;

-- host_tree_due is the day on which a tree is to be visited: as typed, or reckoned from the
-- last visit or the day the box was fixed; a settled box that is to leave is due at once.
CREATE FUNCTION host_tree_due(t host_tree) RETURNS date LANGUAGE sql STABLE AS $$
SELECT CASE
    WHEN t.put_away_at IS NOT NULL THEN NULL
    WHEN t.next_visit_on IS NOT NULL THEN t.next_visit_on
    WHEN t.box_id IS NULL THEN NULL
    WHEN t.settled_on IS NOT NULL THEN CASE WHEN t.box_leaves THEN t.settled_on END
    ELSE (SELECT x.last_on + coalesce(t.visit_every_days, CASE WHEN cardinality(s.split_months) = 0 OR extract(month FROM x.last_on)::int = ANY (s.split_months) THEN s.tree_visit_days ELSE s.tree_visit_cold_days END, 42)
        FROM (SELECT greatest((SELECT (v.happened_at AT TIME ZONE coalesce((SELECT w.time_zone::text FROM workshop w LIMIT 1), 'UTC'))::date FROM host_tree_visit v WHERE v.host_tree_id = t.id ORDER BY v.happened_at DESC, v.id DESC LIMIT 1), t.fixed_on, CASE WHEN t.fixed_on IS NULL THEN t.updated_at::date END) AS last_on) x
        LEFT JOIN bee_species s ON s.id = t.bee_species_id)
END $$;

UPDATE bee_species SET tree_visit_days = 28, tree_visit_cold_days = 56,
    sources = sources || '{"tree_visit_days": "our estimate, no source; put your own figure here", "tree_visit_cold_days": "our estimate, no source; put your own figure here"}';

COMMENT ON COLUMN bee_species.tree_visit_days IS 'days between visits to a box on a tree in the months for splitting';
COMMENT ON COLUMN bee_species.tree_visit_cold_days IS 'days between visits to a box on a tree in the other months';
COMMENT ON COLUMN host_tree.place IS 'where it stands, in words';
COMMENT ON COLUMN host_tree.latitude IS 'degrees, north positive';
COMMENT ON COLUMN host_tree.longitude IS 'degrees, east positive';
COMMENT ON COLUMN host_tree.permission IS 'who allowed it';
COMMENT ON COLUMN host_tree.permission_on IS 'when it was allowed';
COMMENT ON COLUMN host_tree.permission_until IS 'last day for which it is allowed; none: until recalled';
COMMENT ON COLUMN host_tree.next_visit_on IS 'as typed; none: reckoned by host_tree_due';
COMMENT ON COLUMN host_tree.visit_every_days IS 'days between visits to this tree; none: those of the kind of bee';
COMMENT ON COLUMN host_tree.settled_on IS 'the colony in the box was seen settled';
COMMENT ON COLUMN host_tree.colony_id IS 'the colony of record in the box that is still fixed';
COMMENT ON COLUMN host_tree_visit.found IS 'what was seen, in one word of a short list';
COMMENT ON COLUMN colony.host_tree_id IS 'the tree it was drawn from';
