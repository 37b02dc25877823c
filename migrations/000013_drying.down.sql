DROP TABLE pack_place;
ALTER TABLE pack_reading DROP COLUMN correction, DROP COLUMN correction_source;
ALTER TABLE climate DROP COLUMN kind;
ALTER TABLE timber_species DROP COLUMN green_mc_pct, DROP COLUMN slowness, DROP COLUMN meter_table, DROP COLUMN meter_source;
