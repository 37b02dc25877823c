-- Who was told of a run that was put off, and whether the bees were seen flying the next morning.

ALTER TABLE run_stop ADD COLUMN told_at timestamptz, ADD COLUMN seen_open_at timestamptz;
COMMENT ON COLUMN run_stop.told_at IS 'the buyer knows of the new day; empty again when the run is put off again';
COMMENT ON COLUMN run_stop.seen_open_at IS 'asked the morning after: the entrance is open';
