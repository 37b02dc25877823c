DROP INDEX purchase_line_boards, purchase_line_item, purchase_line_purchase, purchase_to_come;
ALTER TABLE purchase_line DROP CONSTRAINT purchase_line_timber, DROP COLUMN received, DROP COLUMN place, DROP COLUMN large_end_mm, DROP COLUMN small_end_mm,
    DROP COLUMN grade, DROP COLUMN length_mm, DROP COLUMN thickness_mm, DROP COLUMN width_mm, DROP COLUMN species_id, DROP COLUMN brings;
ALTER TABLE purchase DROP COLUMN paid_on;
DROP TABLE dressing_lot, dressing;
ALTER TABLE workshop DROP COLUMN drying_m3_month_minor;
