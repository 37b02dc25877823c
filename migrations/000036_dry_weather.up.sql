-- Work that needs dry weather: which operations of a model, how many days of a month are wet, and days whose weather is known.

CREATE TABLE dry_operation (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    model_id bigint NOT NULL REFERENCES box_model,
    name text NOT NULL CONSTRAINT dry_operation_name CHECK (length(name) BETWEEN 1 AND 200),
    CONSTRAINT dry_operation_once UNIQUE (model_id, name)
);
COMMENT ON TABLE dry_operation IS 'Operations of a model, or of options on it, that need dry weather.';
SELECT keep_record('dry_operation');

CREATE TABLE rain_month (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    month int NOT NULL CONSTRAINT rain_month_once UNIQUE CONSTRAINT rain_month_month CHECK (month BETWEEN 1 AND 12),
    rain_days numeric(3,1) NOT NULL CONSTRAINT rain_month_days CHECK (rain_days BETWEEN 0 AND 30)
);
COMMENT ON TABLE rain_month IS 'How wet the months are where the workshop stands; no rows: a guess holds.';
COMMENT ON COLUMN rain_month.rain_days IS 'mean days with rain in the month, of the weather office''s table';
SELECT keep_record('rain_month');

CREATE TABLE weather_day (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    on_day date NOT NULL CONSTRAINT weather_day_once UNIQUE,
    dry boolean NOT NULL
);
COMMENT ON TABLE weather_day IS 'Days whose weather the maker knows.';
SELECT keep_record('weather_day');
