-- A plan says what the maker wanted otherwise, and which builds it has no place for.
ALTER TABLE bench_plan
	ADD COLUMN change jsonb NOT NULL DEFAULT '{}',
	ADD COLUMN left_out jsonb NOT NULL DEFAULT '[]';
COMMENT ON COLUMN bench_plan.change IS 'the build that was held, let go or moved, and how; empty when it was laid as it is';
COMMENT ON COLUMN bench_plan.left_out IS 'builds that can never begin, each with its reason';

-- What finished builds took teaches how long work takes; the last ones are read for every answer.
CREATE INDEX build_finished ON build (finished_at DESC, id DESC) WHERE finished_at IS NOT NULL;
