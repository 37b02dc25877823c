DROP TRIGGER history ON movement;
DROP TRIGGER written_once ON movement;
DROP FUNCTION movement_written_once;
CREATE TRIGGER written_once BEFORE UPDATE OR DELETE ON movement FOR EACH ROW EXECUTE FUNCTION refuse_change();
DROP INDEX movement_colony;
ALTER TABLE movement DROP permit_number;
COMMENT ON TABLE sign_in_failure IS 'Failed sign-ins, for throttling by name and by address.';
DROP TABLE box_asked, box_report;
ALTER TABLE box_owner DROP note, DROP recorded_at;
