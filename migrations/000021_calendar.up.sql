-- Calendar feeds behind addresses that cannot be guessed.

CREATE TABLE calendar_book (
    id bigint PRIMARY KEY DEFAULT 1 CONSTRAINT calendar_book_single CHECK (id = 1),
    host text NOT NULL
);
INSERT INTO calendar_book (host) VALUES (replace(gen_random_uuid()::text, '-', '') || '.kerfbook');
CREATE TABLE calendar_feed (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    name words NOT NULL CONSTRAINT calendar_feed_name CHECK (length(trim(name)) > 0),
    key text NOT NULL CONSTRAINT calendar_feed_key_once UNIQUE,
    shows jsonb NOT NULL DEFAULT '[]',
    phones boolean NOT NULL DEFAULT false,
    made_at timestamptz NOT NULL DEFAULT now(),
    withdrawn_at timestamptz
);
ALTER TABLE away ADD COLUMN noted_at timestamptz NOT NULL DEFAULT now();
COMMENT ON TABLE calendar_book IS 'One row: what makes the ids of this book''s events unlike those of any other.';
COMMENT ON TABLE calendar_feed IS 'A calendar feed; whoever knows its key reads it, until it is withdrawn.';
COMMENT ON COLUMN calendar_feed.shows IS 'list of builds, ready, handovers, runs, visits, away; empty: all';
COMMENT ON COLUMN calendar_feed.phones IS 'whether phone numbers of buyers stand in it';
