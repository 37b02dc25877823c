DROP TABLE log_board;
DROP INDEX log_yields;
DROP INDEX log_minutes;
ALTER TABLE log DROP COLUMN wish, DROP COLUMN expected, DROP COLUMN expected_m3, DROP COLUMN real_m3, DROP COLUMN sawing_minor;
ALTER TABLE workshop DROP COLUMN planing_mm, DROP COLUMN straighten_width_mm, DROP COLUMN straighten_thickness_mm, DROP COLUMN saw_variation_mm, DROP COLUMN box_mc_pct,
    DROP COLUMN sawn_grain, DROP COLUMN short_board_mm, DROP COLUMN mill_hour_cost_minor, DROP COLUMN mill_min_m3;
