-- A day that was written down as a whole tells its total, not what each operation took.

ALTER TABLE time_spell ADD split_on date;
COMMENT ON COLUMN time_spell.split_on IS 'the day whose total was split over operations by their standard minutes; empty: this time was measured';
