-- For tests: takes away what the step up has made.
ALTER TABLE quote_line DROP CONSTRAINT quote_line_timber, DROP CONSTRAINT quote_line_item;
ALTER TABLE order_line DROP CONSTRAINT order_line_timber, DROP CONSTRAINT order_line_item;
DROP TABLE purchase_line, purchase, stock_move, item, board_lot, pack_reading, pack_content, pack, climate, log, supplier, board_size, timber_species;
DROP FUNCTION move_stock();
DROP FUNCTION keep_counts();
