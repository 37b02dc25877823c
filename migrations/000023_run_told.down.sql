ALTER TABLE run_stop DROP COLUMN told_at, DROP COLUMN seen_open_at;
