-- Things of which the workshop has only so many, with their counts; until now a count was read out of a name such as "clamps x3".

CREATE TABLE limited_thing (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    version int NOT NULL DEFAULT 1,
    updated_at timestamptz NOT NULL DEFAULT now(),
    name words NOT NULL CONSTRAINT limited_thing_name CHECK (length(trim(name)) > 0),
    count int NOT NULL DEFAULT 1 CONSTRAINT limited_thing_count CHECK (count BETWEEN 1 AND 1000),
    notes words NOT NULL DEFAULT '',
    put_away_at timestamptz
);
CREATE UNIQUE INDEX limited_thing_once ON limited_thing (lower(name::text));
SELECT keep_record('limited_thing');
COMMENT ON TABLE limited_thing IS 'What work waits for beside hands, such as clamps or the paint rack; operations name it in their needs.';
COMMENT ON COLUMN limited_thing.count IS 'how many operations can have it at once';
COMMENT ON COLUMN limited_thing.put_away_at IS 'there is none since then';

INSERT INTO limited_thing (name, count)
SELECT min(bare), max(count) FROM (
    SELECT CASE WHEN name ~ ' x0*([1-9][0-9]{0,2}|1000)$' THEN trim(regexp_replace(name, ' x[0-9]+$', '')) ELSE name END AS bare,
        CASE WHEN name ~ ' x0*([1-9][0-9]{0,2}|1000)$' THEN substring(name FROM '[0-9]+$')::int ELSE 1 END AS count
    FROM (SELECT left(trim(n #>> '{}'), 200) AS name FROM (
        SELECT jsonb_path_query(needs, 'lax $[*]') AS n FROM build_operation
        UNION SELECT jsonb_path_query(operations, 'lax $[*].needs[*]') FROM box_option
        UNION SELECT jsonb_path_query(body, 'lax $.operations[*].needs[*]') FROM model_revision) x WHERE jsonb_typeof(n) = 'string') named) counted
WHERE bare <> '' GROUP BY lower(bare);

UPDATE build_operation SET needs = (SELECT jsonb_agg(to_jsonb(CASE WHEN n ~ ' x0*([1-9][0-9]{0,2}|1000)$' THEN trim(regexp_replace(n, ' x[0-9]+$', '')) ELSE n END) ORDER BY i) FROM jsonb_array_elements_text(needs) WITH ORDINALITY e(n, i))
WHERE jsonb_typeof(needs) = 'array' AND needs::text ~ ' x[0-9]+"';
