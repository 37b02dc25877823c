package postgres_test

import (
	"context"
	"errors"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
	"kerfbook/internal/postgres/pgtest"
)

const makeShelf = `CREATE TABLE shelf (
	id bigint PRIMARY KEY,
	boards int NOT NULL CONSTRAINT shelf_boards_check CHECK (boards >= 0),
	length_mm numeric(8,1),
	seen timestamptz)`

// shelf gives a database with one small table and two rows.
func shelf(t *testing.T, opts ...postgres.Option) *postgres.DB {
	t.Helper()
	db := pgtest.EmptyDB(t, opts...)
	for _, sql := range []string{makeShelf, `INSERT INTO shelf VALUES (1, 10, 2400.5, NULL), (2, 20, 900, NULL)`} {
		_, err := db.Exec(t.Context(), sql)
		require.NoError(t, err)
	}
	return db
}

func boards(t *testing.T, q postgres.Querier, id int) int {
	t.Helper()
	var n int
	require.NoError(t, q.QueryRow(context.WithoutCancel(t.Context()), `SELECT boards FROM shelf WHERE id = $1`, id).Scan(&n))
	return n
}

func TestWithTxCommitsOrRollsBack(t *testing.T) {
	t.Parallel()
	db := shelf(t)
	set := func(ctx context.Context, tx pgx.Tx, n int) {
		_, err := tx.Exec(ctx, `UPDATE shelf SET boards = $1 WHERE id = 1`, n)
		require.NoError(t, err)
	}

	require.NoError(t, db.WithTx(t.Context(), func(ctx context.Context, tx pgx.Tx) error {
		set(ctx, tx, 11)
		return nil
	}))
	require.Equal(t, 11, boards(t, db, 1))

	wrong := errors.New("no")
	err := db.WithTx(t.Context(), func(ctx context.Context, tx pgx.Tx) error {
		set(ctx, tx, 12)
		return wrong
	})
	require.ErrorIs(t, err, wrong)
	require.Equal(t, 11, boards(t, db, 1))

	require.PanicsWithValue(t, "plank", func() {
		_ = db.WithTx(t.Context(), func(ctx context.Context, tx pgx.Tx) error {
			set(ctx, tx, 13)
			panic("plank")
		})
	})
	require.Equal(t, 11, boards(t, db, 1))

	connections := db.Pool().Stat().NewConnsCount()
	ctx, cancel := context.WithCancel(t.Context())
	err = db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		set(ctx, tx, 14)
		cancel()
		return nil
	})
	require.ErrorIs(t, err, context.Canceled)
	require.Equal(t, fault.Unavailable, fault.KindOf(err))
	require.Equal(t, 11, boards(t, db, 1))
	require.Zero(t, db.Pool().Stat().AcquiredConns())
	require.Equal(t, connections, db.Pool().Stat().NewConnsCount(), "the connection outlives a request that was broken off")
}

func TestWithTxInsideIsASavepoint(t *testing.T) {
	t.Parallel()
	db := shelf(t)
	err := db.WithTx(t.Context(), func(ctx context.Context, tx pgx.Tx) error {
		_, err := tx.Exec(ctx, `UPDATE shelf SET boards = 15 WHERE id = 1`)
		require.NoError(t, err)
		inner := db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
			require.Equal(t, 15, boards(t, tx, 1)) // the same transaction
			_, err := tx.Exec(ctx, `UPDATE shelf SET boards = -1 WHERE id = 2`)
			return err
		})
		require.Equal(t, fault.Conflict, fault.KindOf(inner))
		return nil
	})
	require.NoError(t, err)
	require.Equal(t, 15, boards(t, db, 1))
	require.Equal(t, 20, boards(t, db, 2))
}

// Two transactions lock two rows in opposite order; one is thrown out and runs again.
func TestWithTxRetriesADeadlock(t *testing.T) {
	t.Parallel()
	db := shelf(t)
	var both, wg sync.WaitGroup
	both.Add(2)
	runs := make([]int, 2)
	errs := make([]error, 2)
	for i := range 2 {
		wg.Go(func() {
			errs[i] = db.WithTx(t.Context(), func(ctx context.Context, tx pgx.Tx) error {
				runs[i]++
				for step := range 2 {
					if _, err := tx.Exec(ctx, `UPDATE shelf SET boards = boards + 1 WHERE id = $1`, 1+(i+step)%2); err != nil {
						return err
					}
					if step == 0 && runs[i] == 1 { // both hold their first row
						both.Done()
						both.Wait()
					}
				}
				return nil
			})
		})
	}
	wg.Wait()
	require.NoError(t, errors.Join(errs...))
	require.Equal(t, 3, runs[0]+runs[1], "exactly one ran twice")
	require.Equal(t, 12, boards(t, db, 1))
	require.Equal(t, 22, boards(t, db, 2))
}

func TestWithTxTellsWhoActs(t *testing.T) {
	t.Parallel()
	db := pgtest.EmptyDB(t)
	const ask = `SELECT current_setting('kerfbook.actor_id', true), current_setting('kerfbook.actor_name', true), current_setting('kerfbook.request_id', true)`
	tests := []struct {
		name  string
		actor postgres.Actor
		want  [3]string
	}{
		{"a person", postgres.Actor{UserID: 42, Name: "Wren Tallow", RequestID: "r-1"}, [3]string{"42", "Wren Tallow", "r-1"}},
		{"nobody", postgres.Actor{}, [3]string{"", "", ""}},
		{"quotes", postgres.Actor{UserID: 7, Name: `O'Hare \'; DROP TABLE shelf; --`, RequestID: "$1"}, [3]string{"7", `O'Hare \'; DROP TABLE shelf; --`, "$1"}},
		{"bytes that are no text", postgres.Actor{UserID: 7, Name: "a\x00b\xffc", RequestID: "ü"}, [3]string{"7", "abc", "ü"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			ctx := postgres.WithActor(t.Context(), tt.actor)
			require.Equal(t, tt.actor, postgres.ActorFrom(ctx))
			var got [3]string
			require.NoError(t, db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
				return tx.QueryRow(ctx, ask).Scan(&got[0], &got[1], &got[2])
			}))
			require.Equal(t, tt.want, got)
			var after *string // the setting ends with the transaction
			require.NoError(t, db.QueryRow(t.Context(), `SELECT nullif(current_setting('kerfbook.actor_id', true), '')`).Scan(&after))
			require.Nil(t, after)
		})
	}
}

func TestSessionsAndClock(t *testing.T) {
	t.Parallel()
	moment := time.Date(2026, 3, 14, 15, 9, 26, 535897932, time.FixedZone("AEST", 10*3600))
	db := shelf(t, postgres.WithClock(func() time.Time { return moment }))
	require.Equal(t, time.Date(2026, 3, 14, 5, 9, 26, 535897000, time.UTC), db.Now())

	_, err := db.Exec(t.Context(), `UPDATE shelf SET seen = $1, length_mm = $2 WHERE id = 1`, db.Now(), decimal.RequireFromString("1234.5"))
	require.NoError(t, err)
	var seen time.Time
	var length decimal.Decimal
	require.NoError(t, db.QueryRow(t.Context(), `SELECT seen, length_mm FROM shelf WHERE id = 1`).Scan(&seen, &length))
	require.Equal(t, db.Now(), seen) // UTC and to the microsecond, or it would differ
	require.Equal(t, "1234.5", length.String())

	for name, want := range map[string]string{"timezone": "UTC", "application_name": "kerfbook", "statement_timeout": "30s", "lock_timeout": "10s"} {
		var got string
		require.NoError(t, db.QueryRow(t.Context(), `SELECT current_setting($1)`, name).Scan(&got))
		require.Equal(t, want, got, name)
	}
}

func TestQueriesOfTheContextSeeItsTransaction(t *testing.T) {
	t.Parallel()
	db := pgtest.EmptyDB(t)
	ctx := t.Context()
	_, err := db.Exec(ctx, `CREATE TABLE thing (n int)`)
	require.NoError(t, err)
	err = db.WithTx(ctx, func(inside context.Context, tx pgx.Tx) error {
		_, err := tx.Exec(inside, `INSERT INTO thing VALUES (7)`)
		require.NoError(t, err)
		var in, out int
		require.NoError(t, db.QueryRow(inside, `SELECT count(*) FROM thing`).Scan(&in))
		require.NoError(t, db.QueryRow(ctx, `SELECT count(*) FROM thing`).Scan(&out))
		require.Equal(t, 1, in, "the context of the transaction sees its own row")
		require.Equal(t, 0, out, "another context does not")
		return nil
	})
	require.NoError(t, err)
}

// The server was restarted between two requests: the second does not notice.
func TestWithTxPassesOverDeadConnections(t *testing.T) {
	t.Parallel()
	db := shelf(t)
	var wg sync.WaitGroup
	pids := make([]int, 4) // as many connections in the pool
	for i := range pids {
		wg.Go(func() {
			_ = db.QueryRow(t.Context(), `SELECT pg_backend_pid() FROM pg_sleep(0.05)`).Scan(&pids[i]) // 0 fails below
		})
	}
	wg.Wait()
	other, err := pgx.ConnectConfig(t.Context(), db.Pool().Config().ConnConfig)
	require.NoError(t, err)
	defer other.Close(context.Background())
	for _, pid := range pids {
		require.NotZero(t, pid)
		_, err := other.Exec(t.Context(), `SELECT pg_terminate_backend($1, 5000)`, pid)
		require.NoError(t, err)
	}
	require.NoError(t, db.WithTx(t.Context(), func(ctx context.Context, tx pgx.Tx) error {
		_, err := tx.Exec(ctx, `UPDATE shelf SET boards = 16 WHERE id = 1`)
		return err
	}))
	require.Equal(t, 16, boards(t, db, 1), "the other dead connections are gone as well")
}

func TestWithOneIsOneTransactionWithItsActor(t *testing.T) {
	t.Parallel()
	db := shelf(t)
	_, err := db.Exec(t.Context(), `CREATE TABLE told (actor text, name text, request text)`)
	require.NoError(t, err)
	ctx := postgres.WithActor(t.Context(), postgres.Actor{UserID: 7, Name: "Mara O'Lind\x00", RequestID: "r-1"})
	const change = `WITH c AS (UPDATE shelf SET boards = boards + $1 WHERE id = 1 RETURNING boards)
INSERT INTO told SELECT current_setting('kerfbook.actor_id'), current_setting('kerfbook.actor_name'), current_setting('kerfbook.request_id') FROM c RETURNING actor, name, request`
	var actor, name, request string
	require.NoError(t, db.WithOne(ctx, []any{&actor, &name, &request}, change, 5))
	require.Equal(t, []string{"7", "Mara O'Lind", "r-1"}, []string{actor, name, request})
	require.Equal(t, 15, boards(t, db, 1))

	err = db.WithOne(t.Context(), []any{&actor, &name, &request}, change, -100)
	require.True(t, fault.Is(err, fault.Invalid) || fault.Is(err, fault.Conflict), "the check refuses: %v", err)
	require.Equal(t, 15, boards(t, db, 1))
	require.True(t, fault.Is(db.WithOne(t.Context(), []any{&actor}, `UPDATE shelf SET boards = 1 WHERE id = 9 RETURNING id::text`), fault.NotFound))

	var said string // the next user of the connection is not taken for the last
	for range 20 {
		require.NoError(t, db.QueryRow(t.Context(), `SELECT coalesce(current_setting('kerfbook.actor_id', true), '')`).Scan(&said))
		require.Empty(t, said)
	}

	undone := errors.New("undone")
	err = db.WithTx(ctx, func(ctx context.Context, _ pgx.Tx) error {
		require.NoError(t, db.WithOne(ctx, []any{&actor, &name, &request}, change, 1))
		return undone
	})
	require.ErrorIs(t, err, undone)
	require.Equal(t, 15, boards(t, db, 1), "it joined the transaction")
}

func TestTogetherRunsAtOnceOutsideATransactionAndInOrderInside(t *testing.T) {
	t.Parallel()
	db := shelf(t)
	gate := make(chan struct{})
	require.NoError(t, db.Together(t.Context(),
		func(context.Context) error { <-gate; return nil }, // waits for the other: they run at once
		func(ctx context.Context) error { defer close(gate); return db.Ping(ctx) }))
	first, second := errors.New("first"), errors.New("second")
	require.ErrorIs(t, db.Together(t.Context(), func(context.Context) error { return first }, func(context.Context) error { return second }), first)
	var seen []int
	require.NoError(t, db.WithTx(t.Context(), func(ctx context.Context, _ pgx.Tx) error {
		return db.Together(ctx,
			func(ctx context.Context) error {
				seen = append(seen, boards(t, db, 2))
				_, err := db.Exec(ctx, `UPDATE shelf SET boards = 21 WHERE id = 2`)
				return err
			},
			func(ctx context.Context) error {
				var n int
				err := db.QueryRow(ctx, `SELECT boards FROM shelf WHERE id = 2`).Scan(&n)
				seen = append(seen, n)
				return err
			})
	}))
	require.Equal(t, []int{20, 21}, seen, "the second sees what the first did")
}
