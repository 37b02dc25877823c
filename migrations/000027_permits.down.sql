DROP INDEX movement_permit;
ALTER TABLE run_stop DROP COLUMN permit_id;
ALTER TABLE colony DROP COLUMN permit_id;
ALTER TABLE host_tree DROP COLUMN permit_id;
COMMENT ON TABLE permit IS 'Permits: number, authority, end.';
COMMENT ON COLUMN permit.what IS NULL;
COMMENT ON COLUMN permit.ends_on IS NULL;
ALTER TABLE permit DROP CONSTRAINT permit_forward, DROP CONSTRAINT permit_number, DROP COLUMN kind, DROP COLUMN from_on, DROP COLUMN warn_days, DROP COLUMN notes, DROP COLUMN put_away_at;
