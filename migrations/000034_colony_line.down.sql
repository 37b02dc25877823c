ALTER TABLE colony DROP COLUMN kept_to_split;
DROP TRIGGER written_once ON line_move;
DROP INDEX line_move_unit;
ALTER TABLE line_move DROP COLUMN stands;
COMMENT ON COLUMN line_move.order_unit_id IS NULL;
COMMENT ON COLUMN line_move.before_unit_id IS NULL;
