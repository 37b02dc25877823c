-- Long calculations run beside the requests that start them: a row holds what was asked,
-- how far it is and the answer, so that any server on the database can be asked.
CREATE TABLE search (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    account_id bigint NOT NULL REFERENCES account,
    topic words NOT NULL,
    about words NOT NULL DEFAULT '',
    asked jsonb NOT NULL,
    limit_ms int NOT NULL CONSTRAINT search_limit CHECK (limit_ms BETWEEN 1 AND 600000),
    asked_at timestamptz NOT NULL,
    begun_at timestamptz,
    progress jsonb,
    holder bigint,
    held_until timestamptz NOT NULL,
    stop_asked_at timestamptz,
    ended_at timestamptz,
    answered jsonb NOT NULL
);
CREATE INDEX search_of_account ON search (account_id, id);
CREATE INDEX search_age ON search (asked_at);
COMMENT ON TABLE search IS 'A long calculation that somebody started. Forgotten after a day.';
COMMENT ON COLUMN search.id IS 'Number of the record.';
COMMENT ON COLUMN search.account_id IS 'Who started it; nobody else sees it.';
COMMENT ON COLUMN search.topic IS 'Name of the calculation.';
COMMENT ON COLUMN search.about IS 'What record it was started for, as a path; empty for none.';
COMMENT ON COLUMN search.asked IS 'Input of the calculation.';
COMMENT ON COLUMN search.limit_ms IS 'How long it may take, milliseconds.';
COMMENT ON COLUMN search.asked_at IS 'When it was asked for.';
COMMENT ON COLUMN search.begun_at IS 'When it began; null while it waits for its turn.';
COMMENT ON COLUMN search.progress IS 'How far it was when its server last said so.';
COMMENT ON COLUMN search.holder IS 'Which run of it on which server is at work, a number drawn for it; null for none.';
COMMENT ON COLUMN search.held_until IS 'Until when that run holds it; later, another server may take it up.';
COMMENT ON COLUMN search.stop_asked_at IS 'When somebody told it to stop and give the best it has.';
COMMENT ON COLUMN search.ended_at IS 'When it ended; null while it runs or waits.';
COMMENT ON COLUMN search.answered IS 'The best answer that is kept: a first one until it has ended.';
