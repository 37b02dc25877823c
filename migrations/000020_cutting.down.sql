ALTER TABLE build_output DROP COLUMN finished_at;
ALTER TABLE build DROP COLUMN borne_minor, DROP COLUMN true_wall_mm;
DROP TABLE cut_part;
DROP TABLE board_cut;
ALTER TABLE cutting_plan DROP COLUMN grade, DROP COLUMN cutting_id;
DROP TABLE cutting_build;
DROP TABLE cutting;
