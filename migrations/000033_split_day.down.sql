ALTER TABLE time_spell DROP split_on;
