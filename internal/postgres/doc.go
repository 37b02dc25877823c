// Package postgres is the only door to the database: the pool, transactions, who is
// acting, the schema's version, and the translation of the driver's errors into the
// kinds of package fault. It knows no table of any room.
//
// Start reading at [Open] and [DB.WithTx]. Sub-packages: private (a PostgreSQL server
// of our own for the embedded default), archive (backup and restore), idem (answers
// kept for Idempotency-Keys), pgtest (databases for tests; never in production code).
package postgres
