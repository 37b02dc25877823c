package idem_test

import (
	"context"
	"errors"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
	"kerfbook/internal/postgres/idem"
	"kerfbook/internal/postgres/pgtest"
)

var request = idem.Request{Key: "k-1", ActorID: 7, Route: "POST /api/v1/enquiries", BodyHash: []byte{1, 2, 3}}

// keeper gives a Keeper and work that leaves one row each time it is done.
func keeper(t *testing.T, opts ...postgres.Option) (*idem.Keeper, *postgres.DB, func(context.Context) (idem.Answer, error)) {
	t.Helper()
	db := pgtest.DB(t, opts...)
	_, err := db.Exec(t.Context(), `CREATE TABLE done (n int GENERATED ALWAYS AS IDENTITY)`)
	require.NoError(t, err)
	return idem.New(db), db, func(ctx context.Context) (idem.Answer, error) {
		_, err := db.Exec(ctx, `INSERT INTO done DEFAULT VALUES`) // joins the transaction of ctx
		return idem.Answer{Status: 201, Headers: map[string][]string{"Location": {"/x/1"}}, Body: []byte(`{"id": 1}`)}, err
	}
}

func done(t *testing.T, db *postgres.DB) int {
	t.Helper()
	n, err := postgres.Value[int](t.Context(), db, `SELECT count(*) FROM done`)
	require.NoError(t, err)
	return n
}

func TestFirstAnswerIsGivenAgain(t *testing.T) {
	t.Parallel()
	k, db, work := keeper(t)
	first, again, err := k.Do(t.Context(), request, work)
	require.NoError(t, err)
	require.False(t, again)
	second, again, err := k.Do(t.Context(), request, func(context.Context) (idem.Answer, error) {
		require.Fail(t, "the work is not done twice")
		return idem.Answer{}, nil
	})
	require.NoError(t, err)
	require.True(t, again)
	require.Equal(t, first, second)
	require.Equal(t, 201, second.Status)
	require.Equal(t, "/x/1", second.Headers["Location"][0])
	require.Equal(t, 1, done(t, db))
}

func TestAnotherRequestWithTheKey(t *testing.T) {
	t.Parallel()
	k, db, work := keeper(t)
	_, _, err := k.Do(t.Context(), request, work)
	require.NoError(t, err)
	tests := []struct {
		name   string
		change func(*idem.Request)
		kind   fault.Kind // Internal: none
	}{
		{"another body", func(q *idem.Request) { q.BodyHash = []byte{3, 2, 1} }, fault.Mismatch},
		{"another route", func(q *idem.Request) { q.Route = "POST /api/v1/quotes" }, fault.Mismatch},
		{"somebody else", func(q *idem.Request) { q.ActorID = 8 }, fault.Internal},
		{"another key", func(q *idem.Request) { q.Key = "k-2" }, fault.Internal},
		{"no key", func(q *idem.Request) { q.Key = "" }, fault.Invalid},
		{"a long key", func(q *idem.Request) { q.Key = strings.Repeat("k", 201) }, fault.Invalid},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			before := done(t, db)
			q := request
			tt.change(&q)
			_, again, err := k.Do(t.Context(), q, work)
			if tt.kind == fault.Internal {
				require.NoError(t, err)
				require.False(t, again)
				require.Equal(t, before+1, done(t, db))
				return
			}
			require.Equal(t, tt.kind, fault.KindOf(err), "%v", err)
			require.Equal(t, before, done(t, db))
		})
	}
}

func TestFailedWorkKeepsNothing(t *testing.T) {
	t.Parallel()
	k, db, work := keeper(t)
	wrong := errors.New("no such board")
	_, _, err := k.Do(t.Context(), request, func(ctx context.Context) (idem.Answer, error) {
		_, err := work(ctx)
		require.NoError(t, err)
		return idem.Answer{}, wrong
	})
	require.ErrorIs(t, err, wrong)
	require.Zero(t, done(t, db))
	_, again, err := k.Do(t.Context(), request, work)
	require.NoError(t, err)
	require.False(t, again)
	require.Equal(t, 1, done(t, db))
}

// The same request five times at once: one does the work, the others wait for its answer.
func TestSameRequestAtOnce(t *testing.T) {
	t.Parallel()
	k, db, work := keeper(t)
	answers, errs, repeats := make([]idem.Answer, 5), make([]error, 5), make([]bool, 5)
	var wg sync.WaitGroup
	for i := range answers {
		wg.Go(func() {
			answers[i], repeats[i], errs[i] = k.Do(t.Context(), request, func(ctx context.Context) (idem.Answer, error) {
				time.Sleep(50 * time.Millisecond) // the others arrive meanwhile
				return work(ctx)
			})
		})
	}
	wg.Wait()
	require.NoError(t, errors.Join(errs...))
	first := 0
	for i := range answers {
		require.Equal(t, answers[0], answers[i])
		if !repeats[i] {
			first++
		}
	}
	require.Equal(t, 1, first)
	require.Equal(t, 1, done(t, db))
}

func TestPurgeDropsOldAnswersOnly(t *testing.T) {
	t.Parallel()
	ahead := idem.Kept - time.Hour
	k, db, work := keeper(t, postgres.WithClock(func() time.Time { return time.Now().Add(ahead) }))
	_, _, err := k.Do(t.Context(), request, work)
	require.NoError(t, err)
	require.NoError(t, k.Purge(t.Context()))
	_, again, err := k.Do(t.Context(), request, work)
	require.NoError(t, err)
	require.True(t, again, "kept for %v", idem.Kept)
	ahead += 2 * time.Hour
	require.NoError(t, k.Purge(t.Context()))
	_, again, err = k.Do(t.Context(), request, work)
	require.NoError(t, err)
	require.False(t, again)
	require.Equal(t, 2, done(t, db))
}
