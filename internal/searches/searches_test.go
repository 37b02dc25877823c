package searches_test

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/access"
	"kerfbook/internal/calc/cutting"
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
	"kerfbook/internal/postgres/pgtest"
	"kerfbook/internal/searches"
)

// world is a book with two people.
type world struct {
	db           *postgres.DB
	room         *searches.Room
	maker, other int64
}

func newWorld(t *testing.T, opts ...postgres.Option) world {
	t.Helper()
	w := world{db: pgtest.DB(t, opts...)}
	w.room = open(t, w.db)
	people := access.New(w.db, access.Options{Cost: access.TestCost})
	for _, p := range []struct {
		name string
		id   *int64
	}{{"maker", &w.maker}, {"other", &w.other}} {
		a, err := people.AccountAdd(t.Context(), access.NewAccount{SignIn: p.name, Role: access.Owner, Password: "stringybark and wax"})
		require.NoError(t, err)
		*p.id = a.ID
	}
	return w
}

func open(t *testing.T, db *postgres.DB) *searches.Room {
	room := searches.New(db)
	t.Cleanup(room.Close)
	return room
}

// endless is a cutting that no desk computer proves in minutes: lengths in thousandths of
// a millimetre, so that no two boards come out alike. A limit of 0 is left out.
func endless(limitMS int) cutting.In {
	in := cutting.In{KerfMM: 3.175}
	if limitMS > 0 {
		in.TimeLimitMS = &limitMS
	}
	for i := range 12 {
		in.Boards = append(in.Boards, cutting.Board{ID: fmt.Sprint("b", i), LengthMM: float64(2400125+133333*i) / 1000, Count: 10})
	}
	for i := range 60 {
		in.Parts = append(in.Parts, cutting.Part{ID: fmt.Sprint("p", i), LengthMM: float64(100001+7770*i) / 1000, Count: 4})
	}
	return in
}

// inTx runs do inside a transaction.
func (w world) inTx(t *testing.T, do func(context.Context) error) error {
	t.Helper()
	return w.db.WithTx(t.Context(), func(ctx context.Context, _ pgx.Tx) error { return do(ctx) })
}

func raw(t testing.TB, v any) json.RawMessage {
	t.Helper()
	b, err := json.Marshal(v)
	require.NoError(t, err)
	return b
}

func (w world) start(t *testing.T, limitMS int) searches.Search {
	t.Helper()
	s, err := w.room.Start(t.Context(), searches.Ask{AccountID: w.maker, Topic: "cutting", Input: raw(t, endless(limitMS)), About: "build/12/3"})
	require.NoError(t, err)
	return s
}

const patience = 30 * time.Second // of a test, on a busy machine

// until asks room about a search until it is as ok wants it.
func until(t *testing.T, room *searches.Room, account, id int64, ok func(searches.Search) bool) searches.Search {
	t.Helper()
	var s searches.Search
	require.Eventually(t, func() bool {
		var err error
		s, err = room.Get(t.Context(), account, id)
		return err == nil && ok(s)
	}, patience, 20*time.Millisecond)
	return s
}

func running(s searches.Search) bool { return s.Progress != nil && s.Progress.Best != nil }
func ended(s searches.Search) bool   { return s.State() == searches.Ended }

func planOf(t *testing.T, s searches.Search) cutting.Out {
	t.Helper()
	var out cutting.Out
	var in cutting.In
	require.NoError(t, json.Unmarshal(s.Answered, &out))
	require.NoError(t, json.Unmarshal(s.Asked, &in))
	require.NoError(t, cutting.Check(in, out))
	return out
}

func TestProgressAndStop(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	s := w.start(t, 0)
	require.Equal(t, time.Minute, s.Limit, "left out")
	require.Nil(t, s.Answered)
	s = until(t, w.room, w.maker, s.ID, running)
	require.Equal(t, searches.Running, s.State())
	require.Equal(t, "mm", s.Progress.Unit)
	require.LessOrEqual(t, *s.Progress.Bound, *s.Progress.Best)
	require.Nil(t, s.Answered, "no answer before it has ended")

	s, err := w.room.Stop(t.Context(), w.maker, s.ID)
	require.NoError(t, err)
	require.True(t, s.Stopping)
	s = until(t, w.room, w.maker, s.ID, ended)
	require.Less(t, s.Took(w.db.Now()), 50*time.Second, "long before its limit")
	out := planOf(t, s)
	require.False(t, out.Proved)
	require.Empty(t, out.Unplaced)
	require.InDelta(t, *s.Progress.Best, out.LengthUsedMM, 60, "the last word came at most a moment before the end")

	again, err := w.room.Stop(t.Context(), w.maker, s.ID)
	require.NoError(t, err)
	require.Equal(t, s.EndedAt, again.EndedAt, "stopping what has ended changes nothing")
}

func TestEndsAtItsLimitAndWhenProved(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	s := until(t, w.room, w.maker, w.start(t, 1500).ID, ended)
	require.InDelta(t, 1500, s.Took(w.db.Now()).Milliseconds(), 700)
	require.False(t, s.Stopping)
	planOf(t, s)

	easy := cutting.In{KerfMM: 3, Boards: []cutting.Board{{ID: "b", LengthMM: 2400, Count: 3}}, Parts: []cutting.Part{{ID: "p", LengthMM: 400, Count: 9}}}
	s, err := w.room.Start(t.Context(), searches.Ask{AccountID: w.maker, Topic: "cutting", Input: raw(t, easy)})
	require.NoError(t, err)
	s = until(t, w.room, w.maker, s.ID, ended)
	require.True(t, planOf(t, s).Proved)
	require.Less(t, s.Took(w.db.Now()), 10*time.Second)
}

// Every long calculation can be sought, watched and stopped.
func TestOtherTopics(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	jobs, stops := []map[string]any{}, []map[string]any{}
	for i := range 60 {
		jobs = append(jobs, map[string]any{"id": fmt.Sprint("j", i), "due_minute": 300 + 37*i%900, "weight": 1 + i%7,
			"steps": []map[string]any{{"minutes": 30 + 13*i%70, "wait_minutes": 60}, {"minutes": 20 + 7*i%50}}})
	}
	for i := range 400 {
		stops = append(stops, map[string]any{"id": fmt.Sprint("s", i), "latitude": -28 + float64(i*i%997)/1000, "longitude": 152 + float64(i*i*i%1009)/1000})
	}
	for topic, input := range map[string]map[string]any{
		"planning": {"jobs": jobs, "hands": 2},
		"run":      {"stops": stops, "start": "s0"},
	} {
		s, err := w.room.Start(t.Context(), searches.Ask{AccountID: w.maker, Topic: topic, Input: raw(t, input)})
		require.NoError(t, err, topic)
		s = until(t, w.room, w.maker, s.ID, func(s searches.Search) bool { return running(s) || ended(s) })
		_, err = w.room.Stop(t.Context(), w.maker, s.ID)
		require.NoError(t, err)
		s = until(t, w.room, w.maker, s.ID, ended)
		require.NotEmpty(t, s.Answered, topic)
		require.NotNil(t, s.Progress, topic)
		require.NotNil(t, s.Progress.Best, topic)
	}
}

func TestWhatIsWrongIsSaidAtOnce(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	long := endless(1000)
	long.Parts[3].LengthMM = 9000
	for name, tt := range map[string]struct {
		topic   string
		input   json.RawMessage
		pointer string
	}{
		"no such calculation": {"alchemy", json.RawMessage(`{}`), "/topic"},
		"never long":          {"tax", json.RawMessage(`{}`), "/topic"},
		"no object":           {"cutting", json.RawMessage(`[]`), "/input"},
		"nothing":             {"cutting", nil, "/input"},
		"null":                {"cutting", json.RawMessage(`null`), "/input"},
		"a field too many":    {"cutting", json.RawMessage(`{"kerf_mm":3,"boards":[],"parts":[],"blade":2}`), "/input/blade"},
		"a part too long":     {"cutting", raw(t, long), "/input/parts/3/length_mm"},
		"no limit at all":     {"cutting", raw(t, endless(searches.MostMS+1)), "/input/time_limit_ms"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := w.room.Start(t.Context(), searches.Ask{AccountID: w.maker, Topic: tt.topic, Input: tt.input})
			var bad *fault.Error
			require.ErrorAs(t, err, &bad)
			require.Equal(t, fault.Invalid, bad.Kind)
			require.Equal(t, tt.pointer, bad.Fields[0].Pointer)
		})
	}
	list, err := w.room.List(t.Context(), w.maker, "")
	require.NoError(t, err)
	require.Empty(t, list, "nothing was started")
}

func TestOwnOnlyAndNotTooMany(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	var all sync.WaitGroup
	var mu sync.Mutex
	started, refused := 0, 0
	for range searches.MostOpen + 3 { // at the same moment
		all.Go(func() {
			_, err := w.room.Start(t.Context(), searches.Ask{AccountID: w.maker, Topic: "cutting", Input: raw(t, endless(60_000)), About: "build/12/3"})
			mu.Lock()
			defer mu.Unlock()
			if err == nil {
				started++
			} else if fault.Is(err, fault.Conflict) {
				refused++
			}
		})
	}
	all.Wait()
	require.Equal(t, searches.MostOpen, started)
	require.Equal(t, 3, refused)

	for about, want := range map[string]int{"": searches.MostOpen, "build/12": searches.MostOpen, "build/12/3": searches.MostOpen, "build/1": 0, "build/12/33": 0} {
		list, err := w.room.List(t.Context(), w.maker, about)
		require.NoError(t, err)
		require.Len(t, list, want, about)
	}
	list, err := w.room.List(t.Context(), w.maker, "build/12")
	require.NoError(t, err)
	for _, s := range list {
		_, err = w.room.Get(t.Context(), w.other, s.ID)
		require.True(t, fault.Is(err, fault.NotFound), "it is the maker's alone")
		_, err = w.room.Stop(t.Context(), w.other, s.ID)
		require.True(t, fault.Is(err, fault.NotFound))
		s, err = w.room.Stop(t.Context(), w.maker, s.ID)
		require.NoError(t, err)
	}
	for _, s := range list { // those that waited end with their first answer
		planOf(t, until(t, w.room, w.maker, s.ID, ended))
	}
	w.start(t, 1000)
}

// A server that stops lets go of its searches, and another takes them up.
func TestAnotherServerTakesUp(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	s := w.start(t, 60_000)
	until(t, w.room, w.maker, s.ID, running)
	w.room.Close()
	second := open(t, w.db)
	got, err := second.Get(t.Context(), w.maker, s.ID)
	require.NoError(t, err)
	require.Nil(t, got.EndedAt)
	_, err = second.Stop(t.Context(), w.maker, s.ID)
	require.NoError(t, err)
	planOf(t, until(t, second, w.maker, s.ID, ended))
}

// A server that dies says nothing any more; one that was only slow finds its search taken
// and leaves it.
func TestTakenUpAfterASilence(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	s := w.start(t, 2_500)
	until(t, w.room, w.maker, s.ID, running)
	_, err := w.db.Exec(t.Context(), `UPDATE search SET held_until = $2, holder = 7 WHERE id = $1`, s.ID, w.db.Now().Add(-time.Second))
	require.NoError(t, err)
	second := open(t, w.db)
	s = until(t, second, w.maker, s.ID, ended)
	planOf(t, s)
	holder, err := postgres.Value[int64](t.Context(), w.db, `SELECT holder FROM search WHERE id = $1`, s.ID)
	require.NoError(t, err)
	require.NotEqual(t, int64(7), holder)
}

// A search may be started inside a transaction, as one with an Idempotency-Key is: it
// runs once that is kept, and not at all when it is undone.
func TestStartedInATransaction(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	var kept, undone searches.Search
	require.NoError(t, w.inTx(t, func(ctx context.Context) error {
		var err error
		kept, err = w.room.Start(ctx, searches.Ask{AccountID: w.maker, Topic: "cutting", Input: raw(t, endless(300))})
		time.Sleep(50 * time.Millisecond)
		return err
	}))
	planOf(t, until(t, w.room, w.maker, kept.ID, ended))
	broke := errors.New("undone")
	require.ErrorIs(t, w.inTx(t, func(ctx context.Context) error {
		var err error
		undone, err = w.room.Start(ctx, searches.Ask{AccountID: w.maker, Topic: "cutting", Input: raw(t, endless(300))})
		require.NoError(t, err)
		return broke
	}), broke)
	_, err := w.room.Get(t.Context(), w.maker, undone.ID)
	require.True(t, fault.Is(err, fault.NotFound))
}

func TestForgottenAfterADay(t *testing.T) {
	t.Parallel()
	var mu sync.Mutex
	ahead := time.Duration(0)
	w := newWorld(t, postgres.WithClock(func() time.Time {
		mu.Lock()
		defer mu.Unlock()
		return time.Now().Add(ahead)
	}))
	s := until(t, w.room, w.maker, w.start(t, 200).ID, ended)
	mu.Lock()
	ahead = searches.Kept + time.Minute
	mu.Unlock()
	_, err := w.room.Get(t.Context(), w.maker, s.ID)
	require.True(t, fault.Is(err, fault.NotFound))
	w.start(t, 200)
	n, err := postgres.Value[int](t.Context(), w.db, `SELECT count(*) FROM search`)
	require.NoError(t, err)
	require.Equal(t, 1, n, "the old one is gone")
}
