-- Whom the maker has told that days away touch what was agreed.

CREATE TABLE ring_call (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    away_id bigint NOT NULL REFERENCES away ON DELETE CASCADE,
    subject text NOT NULL CONSTRAINT ring_call_subject CHECK (length(subject) BETWEEN 1 AND 60),
    told_at timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT ring_call_once UNIQUE (away_id, subject)
);
COMMENT ON TABLE ring_call IS 'Somebody who was told of days away.';
COMMENT ON COLUMN ring_call.subject IS 'order, run, visit or purchase with its id, such as order:12';
