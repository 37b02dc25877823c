package contract

import (
	"context"
	"time"
)

// Progress is how far a long calculation is: what its best answer so far comes to, and
// what no answer can go below, in one unit. Nil is not yet known.
type Progress struct {
	Best  *float64 `json:"best"`
	Bound *float64 `json:"bound"`
	// Unit is that of the topic's bound, such as "mm", "boards", "cost", "km", or what is
	// made small first, such as "mm unplaced".
	Unit string `json:"unit"`
}

// Watch is somebody who listens to a long calculation. A nil Watch listens to nothing, so
// that calculations need not ask.
type Watch struct {
	tell func(Progress)
	next time.Time
}

type watchKey struct{}

// tellEvery is the least time between two reports, so that listening costs nothing that
// could be measured.
const tellEvery = 50 * time.Millisecond

// WithWatch gives a context whose calculation reports to tell now and then, from its own
// goroutine; tell must be quick. To stop a calculation early, cancel the context: it gives
// the best answer it has. Neither changes what is answered under the work limit alone.
func WithWatch(ctx context.Context, tell func(Progress)) context.Context {
	return context.WithValue(ctx, watchKey{}, &Watch{tell: tell})
}

// WatchOf gives who listens to ctx, nil for nobody.
func WatchOf(ctx context.Context) *Watch {
	w, _ := ctx.Value(watchKey{}).(*Watch)
	return w
}

// Tell reports, unless it has done so a moment ago; say is asked only when it does.
func (w *Watch) Tell(say func() Progress) {
	if w == nil {
		return
	}
	now := time.Now()
	if now.Before(w.next) {
		return
	}
	w.next = now.Add(tellEvery)
	w.tell(say())
}
