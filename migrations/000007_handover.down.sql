-- For tests: takes away what the step up has made.
DROP TABLE guarantee_claim, follow_up, handover, run_stop, run;
