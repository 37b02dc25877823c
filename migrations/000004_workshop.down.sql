-- For tests: takes away what the step up has made.
ALTER TABLE quote_line DROP CONSTRAINT quote_line_model;
ALTER TABLE order_line DROP CONSTRAINT order_line_model;
-- Moves of shelf lots have nothing to refer to once shelf lots are gone.
ALTER TABLE stock_move DISABLE TRIGGER written_once;
DELETE FROM stock_move WHERE shelf_lot_id IS NOT NULL;
ALTER TABLE stock_move ENABLE TRIGGER written_once;
ALTER TABLE stock_move DROP CONSTRAINT stock_move_one_thing, DROP COLUMN shelf_lot_id, DROP CONSTRAINT stock_move_build,
    ADD CONSTRAINT stock_move_one_thing CHECK (num_nonnulls(lot_id, item_id) = 1);
CREATE OR REPLACE FUNCTION move_stock() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('kerfbook.moving', 'yes', true);
    IF NEW.lot_id IS NOT NULL THEN
        UPDATE board_lot SET on_hand = on_hand + NEW.quantity WHERE id = NEW.lot_id;
    ELSE
        UPDATE item SET on_hand = on_hand + NEW.quantity WHERE id = NEW.item_id;
    END IF;
    PERFORM set_config('kerfbook.moving', '', true);
    RETURN NULL;
END $$;
ALTER TABLE build_output DROP CONSTRAINT build_output_box;
DROP TABLE bench_plan_step, bench_plan, away, work_week, shelf_lot, box_place, box_owner, box_section, box, cutting_plan, time_spell, build_operation, build_output, build, box_option, model_revision, box_model, fit_size, fit;
