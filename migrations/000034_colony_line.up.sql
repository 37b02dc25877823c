-- Moves in the line of those who wait for a colony are kept as they were made and say where a piece stands since; a colony can be kept to be split.

ALTER TABLE line_move ADD COLUMN stands numeric NOT NULL DEFAULT 0;
ALTER TABLE line_move ALTER COLUMN stands DROP DEFAULT;
CREATE INDEX line_move_unit ON line_move (order_unit_id, id DESC);
CREATE TRIGGER written_once BEFORE UPDATE OR DELETE ON line_move FOR EACH ROW EXECUTE FUNCTION refuse_change();
COMMENT ON COLUMN line_move.order_unit_id IS 'the piece that moved';
COMMENT ON COLUMN line_move.before_unit_id IS 'the piece it was put before; none: behind all who stood in the line then';
COMMENT ON COLUMN line_move.stands IS 'where it stands since: seconds since 1970 of the deposit it stands as if it had paid, with parts of a second that keep places apart';

ALTER TABLE colony ADD COLUMN kept_to_split boolean;
COMMENT ON COLUMN colony.kept_to_split IS 'kept to be split and not given away; not said: as the log shows, which is so once it has been split';
