-- How much the maker expects to sell, for a book that knows no past orders or knows them wrongly.
CREATE TABLE milling_pace (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    model_id bigint NOT NULL REFERENCES box_model,
    species_id bigint NOT NULL REFERENCES timber_species,
    boxes_a_month numeric(6,1) NOT NULL CONSTRAINT milling_pace_boxes CHECK (boxes_a_month > 0 AND boxes_a_month <= 1000),
    CONSTRAINT milling_pace_once UNIQUE (species_id, model_id)
);
SELECT keep_record('milling_pace');
COMMENT ON TABLE milling_pace IS 'How many boxes of a model in a timber the maker expects to sell; stands in place of the pace of past orders of that timber.';
COMMENT ON COLUMN milling_pace.boxes_a_month IS 'boxes a month';
