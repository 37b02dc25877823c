-- The closing round in the evening is a stop of its own: where the hives stand, before the drive.

ALTER TABLE run ADD COLUMN loads text NOT NULL DEFAULT 'dawn' CONSTRAINT run_loads CHECK (loads IN ('dawn', 'dusk'));
ALTER TABLE run_stop
    ADD COLUMN kind text NOT NULL DEFAULT 'call' CONSTRAINT run_stop_kind CHECK (kind IN ('call', 'close')),
    ADD COLUMN closed_by_id bigint REFERENCES run_stop;
CREATE INDEX run_stop_closed_by ON run_stop (closed_by_id) WHERE closed_by_id IS NOT NULL;
CREATE INDEX run_stop_to_close ON run_stop (run_id) WHERE kind = 'close' AND done_at IS NULL;

COMMENT ON COLUMN run.loads IS 'at dawn: entrances are closed the evening before; at dusk: the same evening';
COMMENT ON COLUMN run_stop.kind IS 'call: somebody or a tree is called on; close: entrances are closed after dusk where the hives stand';
COMMENT ON COLUMN run_stop.closed_by_id IS 'the stop at which the entrance of this stop''s hive is closed';
