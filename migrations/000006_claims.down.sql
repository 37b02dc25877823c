-- For tests: takes away what the step up has made.
DROP TABLE claim;
DROP FUNCTION count_claim();
DROP FUNCTION claim_ours();
