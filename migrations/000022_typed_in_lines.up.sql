-- Lines that came in from a table file, so that the same file again adds nothing.

CREATE TABLE typed_in_line (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    kind text NOT NULL CONSTRAINT typed_in_line_kind CHECK (kind IN ('people', 'boxes', 'timber', 'orders')),
    digest text NOT NULL CONSTRAINT typed_in_line_digest CHECK (length(digest) BETWEEN 1 AND 100),
    record_id bigint NOT NULL,
    came_at timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT typed_in_line_once UNIQUE (kind, digest)
);
COMMENT ON TABLE typed_in_line IS 'What each line of a table file became; the digest is of its words and of how often they stood before.';
