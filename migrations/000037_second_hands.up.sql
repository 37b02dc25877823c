-- A second pair of hands at the bench: from when to when, on which days of the week, at what hours.

CREATE TABLE second_hands (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    who words NOT NULL DEFAULT '',
    from_on date NOT NULL,
    to_on date,
    weekdays smallint[] NOT NULL CONSTRAINT second_hands_weekdays CHECK (cardinality(weekdays) BETWEEN 1 AND 7 AND weekdays <@ ARRAY[0, 1, 2, 3, 4, 5, 6]::smallint[]),
    start_minute int NOT NULL,
    minutes int NOT NULL,
    while_away boolean NOT NULL DEFAULT false,
    CONSTRAINT second_hands_forward CHECK (to_on >= from_on),
    CONSTRAINT second_hands_minutes CHECK (start_minute >= 0 AND minutes > 0 AND start_minute + minutes <= 1440)
);
SELECT keep_record('second_hands');
COMMENT ON TABLE second_hands IS 'When somebody besides the owner works at the bench.';
COMMENT ON COLUMN second_hands.who IS 'empty: a second pair of hands';
COMMENT ON COLUMN second_hands.to_on IS 'the last day; empty: until it is ended';
COMMENT ON COLUMN second_hands.weekdays IS '0 is Sunday';
COMMENT ON COLUMN second_hands.start_minute IS 'minutes after midnight';
COMMENT ON COLUMN second_hands.minutes IS 'from start to end, the breaks of the owner''s hours included; minutes';
COMMENT ON COLUMN second_hands.while_away IS 'they come on days when the owner is away, too';
