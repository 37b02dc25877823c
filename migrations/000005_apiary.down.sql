-- For tests: takes away what the step up has made.
ALTER TABLE quote_line DROP CONSTRAINT quote_line_bees;
ALTER TABLE order_line DROP CONSTRAINT order_line_bees;
DROP TABLE movement, line_move, split_plan, colony_event, colony_place, colony_keeper, colony_owner, housing, colony_parent, colony_species, colony, permit, host_tree_visit, host_tree, bee_species;
DROP FUNCTION refuse_ring();
