package searches

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"sync/atomic"
	"time"

	"kerfbook/internal/calc/contract"
	"kerfbook/internal/calc/topics"
	"kerfbook/internal/fault"
)

const (
	beatEvery = 500 * time.Millisecond // between two words of a run to the database
	heldFor   = 5 * time.Second        // without a word, a search is anybody's
	// seenAfter is how long a run looks for its row: it is started inside the
	// transaction that makes the row, and another request's may have been undone.
	seenAfter = 10 * time.Second
	lastWords = 5 * time.Second // for storing an answer after everything has stopped
)

var (
	errStopped = errors.New("told to stop")
	errLost    = errors.New("another server holds it")
)

// run is a server's work on one search, under a number drawn for it.
func (r *Room) run(id, holder int64) {
	row, err := r.hold(id, holder)
	if err != nil {
		return
	}
	ctx, cancel := context.WithCancelCause(r.ctx)
	var latest atomic.Pointer[contract.Progress]
	var beats sync.WaitGroup
	beats.Go(func() { r.beat(ctx, cancel, id, holder, &latest) })
	var answer json.RawMessage
	select {
	case r.turns <- struct{}{}:
		answer, err = r.calculate(ctx, id, holder, row, func(p contract.Progress) { latest.Store(&p) })
		<-r.turns
	case <-ctx.Done():
	}
	cause := context.Cause(ctx)
	cancel(nil)
	beats.Wait()
	last, done := context.WithTimeout(context.Background(), lastWords)
	defer done()
	switch {
	case errors.Is(cause, errLost):
	case r.ctx.Err() != nil:
		err = errors.Join(err, r.letGo(last, id, holder))
	default:
		err = errors.Join(err, r.finish(last, id, holder, answer, latest.Load()))
	}
	if err != nil {
		slog.Warn("long search", "search", id, "error", err)
	}
}

// hold takes the row, as soon as it is there.
func (r *Room) hold(id, holder int64) (held, error) {
	for pause := time.Millisecond; ; pause *= 2 {
		row, err := r.take(r.ctx, id, holder)
		if err == nil || !fault.Is(err, fault.NotFound) || pause > seenAfter/2 {
			return row, err
		}
		select {
		case <-r.ctx.Done():
			return row, r.ctx.Err()
		case <-time.After(pause):
		}
	}
}

// beat says how far the run is and hears whether it should stop.
func (r *Room) beat(ctx context.Context, cancel context.CancelCauseFunc, id, holder int64, latest *atomic.Pointer[contract.Progress]) {
	tick := time.NewTicker(beatEvery)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		stop, err := r.say(ctx, id, holder, latest.Load())
		switch {
		case fault.Is(err, fault.NotFound):
			cancel(errLost)
		case err == nil && stop:
			cancel(errStopped)
		}
	}
}

// calculate runs the topic; a run that was taken up again has what is left of its time. A
// fault of ours, even a panic, leaves the first answer.
func (r *Room) calculate(ctx context.Context, id, holder int64, row held, tell func(contract.Progress)) (answer json.RawMessage, err error) {
	defer func() {
		if p := recover(); p != nil {
			answer, err = nil, fmt.Errorf("panic: %v", p)
		}
	}()
	left, err := r.begin(ctx, id, holder)
	if err != nil {
		return nil, err
	}
	topic, ok := topics.Find(row.Topic)
	if !ok {
		return nil, fmt.Errorf("no topic %q", row.Topic)
	}
	ctx, cancel := context.WithTimeout(ctx, left)
	defer cancel()
	out, err := topic.Run(contract.WithWatch(ctx, tell), row.Asked)
	if err != nil {
		return nil, err
	}
	return json.Marshal(out)
}
