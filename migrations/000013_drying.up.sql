-- Drying: what a meter shows against what is true, how wet a timber is when sawn, chambers
-- as a second climate, and where a pack was moved to.
ALTER TABLE timber_species
    ADD COLUMN green_mc_pct numeric(5,1) CONSTRAINT timber_species_green CHECK (green_mc_pct BETWEEN 20 AND 250),
    ADD COLUMN slowness numeric(4,2) CONSTRAINT timber_species_slowness CHECK (slowness BETWEEN 0.3 AND 5),
    ADD COLUMN meter_table jsonb NOT NULL DEFAULT '[]' CONSTRAINT timber_species_meter CHECK (jsonb_array_length(meter_table) <= 12),
    ADD COLUMN meter_source words NOT NULL DEFAULT '';

ALTER TABLE climate
    ADD COLUMN kind text NOT NULL DEFAULT 'open' CONSTRAINT climate_kind CHECK (kind IN ('open', 'solar', 'heated'));

ALTER TABLE pack_reading
    ADD COLUMN correction text NOT NULL DEFAULT 'none' CONSTRAINT pack_reading_correction CHECK (correction IN ('none', 'table', 'hand')),
    ADD COLUMN correction_source words NOT NULL DEFAULT '';
UPDATE pack_reading SET correction = 'hand' WHERE mc_pct <> meter_pct;

CREATE TABLE pack_place (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    pack_id bigint NOT NULL REFERENCES pack,
    from_on date NOT NULL,
    climate_id bigint NOT NULL REFERENCES climate,
    place words NOT NULL DEFAULT '',
    recorded_at timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT pack_place_once UNIQUE (pack_id, from_on)
);
SELECT keep_record('pack_place');

COMMENT ON COLUMN timber_species.green_mc_pct IS 'usual moisture when sawn, percent of oven-dry mass; none: not known';
COMMENT ON COLUMN timber_species.slowness IS 'how many times as long it dries as its density says; none: as its density says';
COMMENT ON COLUMN timber_species.meter_table IS 'shows_pct and true_pct of the meter, ascending; empty: no correction known';
COMMENT ON COLUMN timber_species.meter_source IS 'where the correction of the meter is from';
COMMENT ON COLUMN climate.kind IS 'open air, a solar or a heated chamber';
COMMENT ON COLUMN pack_reading.correction IS 'none: as the meter shows; table: by the correction of the timber; hand: typed';
COMMENT ON COLUMN pack_reading.correction_source IS 'where that correction was from, as it stood then';
COMMENT ON TABLE pack_place IS 'Where a pack was moved to, and its air from that day on; before the first, the pack''s own climate.';
COMMENT ON COLUMN pack_place.from_on IS 'the day of the move';
