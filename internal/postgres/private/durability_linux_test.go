package private

import (
	"context"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Three writers note pairs while the server is killed again and again. A pair whose
// transaction was acknowledged is there afterwards, and no pair is there by half. Callers
// see nothing but Unavailable meanwhile.
func TestKilledServerLosesNothingAcknowledged(t *testing.T) {
	t.Parallel()
	const kills, writers, afterEach = 4, 3, 20
	dir := folder(t)
	srv := start(t, dir)
	db, err := postgres.Open(t.Context(), srv.URL())
	require.NoError(t, err)
	_, err = db.Exec(t.Context(), `CREATE TABLE pair (n bigint, half int, PRIMARY KEY (n, half))`)
	require.NoError(t, err)

	var next, acknowledged atomic.Int64
	var mu sync.Mutex
	var kept []int64
	var odd []error
	ctx, cancel := context.WithCancel(t.Context())
	var wg sync.WaitGroup
	for range writers {
		wg.Go(func() {
			for ctx.Err() == nil {
				n := next.Add(1)
				err := db.WithTx(context.WithoutCancel(ctx), func(ctx context.Context, tx pgx.Tx) error {
					for half := range 2 {
						if _, err := tx.Exec(ctx, `INSERT INTO pair VALUES ($1, $2)`, n, half); err != nil {
							return err
						}
					}
					return nil
				})
				mu.Lock()
				if err == nil {
					kept = append(kept, n)
					acknowledged.Add(1)
				} else if !fault.Is(err, fault.Unavailable) {
					odd = append(odd, err)
				}
				mu.Unlock()
				if err != nil {
					time.Sleep(5 * time.Millisecond)
				}
			}
		})
	}
	more := func() {
		want := acknowledged.Load() + afterEach
		require.Eventually(t, func() bool { return acknowledged.Load() >= want }, 60*time.Second, time.Millisecond)
	}
	for range kills {
		more()
		killed := srv.process.Load()
		require.NoError(t, killed.Kill())
		// What is acknowledged until then may be the last work of the killed server's children.
		require.Eventually(t, func() bool { return srv.process.Load() != killed }, 60*time.Second, time.Millisecond)
	}
	more()
	cancel()
	wg.Wait()
	require.Empty(t, odd)

	db.Close()
	stop(t, srv)
	srv = start(t, dir)
	defer stop(t, srv)
	db, err = postgres.Open(t.Context(), srv.URL())
	require.NoError(t, err)
	defer db.Close()
	halves, err := postgres.Value[int](t.Context(), db, `SELECT count(*) FROM (SELECT n FROM pair GROUP BY n HAVING count(*) <> 2) x`)
	require.NoError(t, err)
	require.Zero(t, halves)
	lost, err := postgres.Value[int](t.Context(), db, `SELECT count(*) FROM unnest($1::bigint[]) k WHERE NOT EXISTS (SELECT FROM pair WHERE n = k)`, kept)
	require.NoError(t, err)
	require.Zero(t, lost, "of %d acknowledged", len(kept))
}
