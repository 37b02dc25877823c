-- What somebody must know who stands in for the maker, in the maker's own words.

CREATE TABLE stand_in (
    id bigint PRIMARY KEY DEFAULT 1 CONSTRAINT stand_in_single CHECK (id = 1),
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    first_to_do prose NOT NULL DEFAULT '',
    who_decides prose NOT NULL DEFAULT '',
    backups prose NOT NULL DEFAULT '',
    starting prose NOT NULL DEFAULT ''
);
SELECT keep_record('stand_in');
COMMENT ON TABLE stand_in IS 'One row: the maker''s words for who stands in.';
COMMENT ON COLUMN stand_in.backups IS 'where the backups lie, and where their password is';
COMMENT ON COLUMN stand_in.starting IS 'how this book is started, and who can help';
