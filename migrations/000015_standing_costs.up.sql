-- What the workshop pays again and again, for the look at the money of the coming weeks.

CREATE TABLE standing_cost (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    name words NOT NULL CONSTRAINT standing_cost_name CHECK (length(trim(name)) > 0),
    amount_minor bigint NOT NULL CONSTRAINT standing_cost_amount CHECK (amount_minor > 0),
    every text NOT NULL DEFAULT 'month' CONSTRAINT standing_cost_every CHECK (every IN ('week', 'fortnight', 'month', 'quarter', 'year')),
    next_on date NOT NULL,
    put_away_at timestamptz
);
SELECT keep_record('standing_cost');
COMMENT ON TABLE standing_cost IS 'What is paid again and again, such as rent or insurance.';
COMMENT ON COLUMN standing_cost.amount_minor IS 'with tax, minor units';
COMMENT ON COLUMN standing_cost.next_on IS 'a day on which it is due; the others follow from it';
