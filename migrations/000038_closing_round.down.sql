DROP INDEX run_stop_to_close;
ALTER TABLE run_stop DROP COLUMN closed_by_id, DROP COLUMN kind;
ALTER TABLE run DROP COLUMN loads;
