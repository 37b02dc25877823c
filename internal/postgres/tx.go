package postgres

import (
	"context"
	"errors"
	"math/rand/v2"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"kerfbook/internal/fault"
)

const (
	txAttempts    = 6                    // the first and five more; a deadlock seldom meets twice
	txPause       = 4 * time.Millisecond // doubled each time, plus as much again by chance
	rollbackLimit = 5 * time.Second
)

type txKey struct{}

// openTx is the transaction a context is inside of.
type openTx struct {
	db *DB
	tx pgx.Tx
}

// WithTx runs body in one read-committed transaction and commits when it returns nil.
//
// The database learns who acts (see [WithActor]). After a serialization failure or a
// deadlock the whole body runs again, a few times, so it must have no effect outside
// the database: send and publish after WithTx has returned. A body that fails, panics
// or whose context ends is rolled back on a context of its own. Within the body's ctx a
// further WithTx of the same DB becomes a savepoint of the same transaction.
//
// Errors come back through [Translate].
func (db *DB) WithTx(ctx context.Context, body func(ctx context.Context, tx pgx.Tx) error) error {
	if outer, ok := ctx.Value(txKey{}).(openTx); ok && outer.db == db {
		return Translate(db.attempt(ctx, outer.tx.Begin, body))
	}
	return retried(ctx, func() error { return db.attempt(ctx, db.begin, body) })
}

// WithOne runs one changing statement that gives one row, and scans the row into to. It
// is [DB.WithTx] around that statement alone, in one round trip instead of three: who acts
// is said in the same breath, and the two are one transaction of the server. Inside a
// transaction of ctx the statement joins it. Errors: NotFound when there is no row, which
// undoes nothing that the statement has changed; else those of WithTx, which inside a
// transaction of ctx leave it of no further use.
func (db *DB) WithOne(ctx context.Context, to []any, sql string, args ...any) error {
	if outer, ok := ctx.Value(txKey{}).(openTx); ok && outer.db == db {
		return Translate(outer.tx.QueryRow(ctx, sql, args...).Scan(to...))
	}
	return retried(ctx, func() error {
		var b pgx.Batch
		b.Queue(sayActor, ActorFrom(ctx).actorArgs()...)
		b.Queue(sql, args...)
		answers := db.pool.SendBatch(ctx, &b)
		_, err := answers.Exec()
		if err == nil {
			err = answers.QueryRow().Scan(to...)
		}
		if end := answers.Close(); err == nil { // the end of the batch is the commit
			err = end
		}
		if err != nil && connectionLost(err) {
			return errStored(err)
		}
		return err
	})
}

// retried runs try again after a serialization failure or a deadlock.
func retried(ctx context.Context, try func() error) error {
	pause := txPause
	for n := 1; ; n++ {
		err := try()
		if err == nil || n == txAttempts || !isRetryable(err) {
			return Translate(err)
		}
		select {
		case <-ctx.Done():
			return Translate(err)
		case <-time.After(pause + rand.N(pause)):
			pause *= 2
		}
	}
}

// begin starts a transaction and says who acts. The pool may hold connections to a server
// that has been restarted since; nothing was asked of them yet, so they are dropped and
// the start is tried again on a new one.
func (db *DB) begin(ctx context.Context) (pgx.Tx, error) {
	how := pgx.TxOptions{BeginQuery: ActorFrom(ctx).beginSQL()}
	tx, err := db.pool.BeginTx(ctx, how)
	var unreachable *pgconn.ConnectError
	if err == nil || errors.As(err, &unreachable) || ctx.Err() != nil || !fault.Is(Translate(err), fault.Unavailable) {
		return tx, err
	}
	db.pool.Reset()
	return db.pool.BeginTx(ctx, how)
}

// attempt is one begin, body, commit.
func (db *DB) attempt(ctx context.Context, begin func(context.Context) (pgx.Tx, error), body func(context.Context, pgx.Tx) error) error {
	tx, err := begin(ctx)
	if err != nil {
		return err
	}
	finished := false
	defer func() {
		if !finished { // an error, or a panic on its way through
			rollback(ctx, tx)
		}
	}()
	if err := body(context.WithValue(ctx, txKey{}, openTx{db, tx}), tx); err != nil {
		return err
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	err = tx.Commit(ctx)
	finished = err == nil
	if err != nil && connectionLost(err) {
		return errStored(err)
	}
	return err
}

// errStored is for a connection that broke when the change may or may not have been kept.
func errStored(err error) error {
	return fault.Wrap(err, fault.Unavailable, "The database went away while this was being stored. Look whether it is there before you try again.")
}

// rollback ends tx even when the request's context is already over.
func rollback(ctx context.Context, tx pgx.Tx) {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), rollbackLimit)
	defer cancel()
	// A failed rollback closes the connection, which rolls back as well; the first
	// error is the one to report.
	_ = tx.Rollback(ctx)
}

func isRetryable(err error) bool {
	var pg *pgconn.PgError
	return errors.As(err, &pg) && (pg.Code == serializationFailure || pg.Code == deadlockDetected)
}
