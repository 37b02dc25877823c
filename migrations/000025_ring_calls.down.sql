DROP TABLE ring_call;
