DROP FUNCTION host_tree_due(host_tree);
DROP INDEX host_tree_box;
DROP INDEX host_tree_visit_of;
ALTER TABLE colony DROP COLUMN host_tree_id;
ALTER TABLE host_tree_visit DROP COLUMN found;
ALTER TABLE host_tree DROP CONSTRAINT host_tree_permission_forward, DROP CONSTRAINT host_tree_both_coordinates, DROP COLUMN place, DROP COLUMN latitude, DROP COLUMN longitude, DROP COLUMN permission_on, DROP COLUMN permission_until,
    DROP COLUMN visit_every_days, DROP COLUMN settled_on, DROP COLUMN colony_id, DROP COLUMN put_away_because;
COMMENT ON COLUMN host_tree.permission IS 'who allowed it, when';
COMMENT ON COLUMN host_tree.next_visit_on IS NULL;
ALTER TABLE bee_species DROP COLUMN tree_visit_days, DROP COLUMN tree_visit_cold_days;
