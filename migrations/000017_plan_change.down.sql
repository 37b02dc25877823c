DROP INDEX build_finished;
ALTER TABLE bench_plan
	DROP COLUMN left_out,
	DROP COLUMN change;
