DROP TABLE fetch_reminder;
DROP INDEX guarantee_claim_handover;
ALTER TABLE guarantee_claim DROP COLUMN decided_by, DROP COLUMN until_on, DROP COLUMN about;
ALTER TABLE follow_up DROP COLUMN lost_on;
ALTER TABLE handover DROP COLUMN guarantee_colony_until, DROP COLUMN guarantee_box_until, DROP COLUMN guarantee, DROP COLUMN mass_kg;
DROP TABLE after_care;
