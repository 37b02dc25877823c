-- The maker's own wording of sheets, and what went wrong with it.

CREATE TABLE wording (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    name text NOT NULL CONSTRAINT wording_once UNIQUE CONSTRAINT wording_name CHECK (length(name) BETWEEN 1 AND 100),
    body text CONSTRAINT wording_body CHECK (octet_length(body) <= 65536)
);
SELECT keep_record('wording');
COMMENT ON TABLE wording IS 'Wording of a sheet in the maker''s own words.';
COMMENT ON COLUMN wording.name IS 'file of the house wording it takes the place of, such as handover_front.tmpl';
COMMENT ON COLUMN wording.body IS 'NULL: the house wording is in use again';

CREATE TABLE wording_trouble (
    name text PRIMARY KEY REFERENCES wording (name) ON DELETE CASCADE,
    paper words NOT NULL,
    said words NOT NULL,
    at timestamptz NOT NULL
);
COMMENT ON TABLE wording_trouble IS 'The latest paper on which the maker''s wording failed and the house wording took its place.';
COMMENT ON COLUMN wording_trouble.paper IS 'number of the paper';
