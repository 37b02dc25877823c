// Package searches runs long calculations beside the requests that start them. Whoever
// started one may ask how far it is, stop it early with the best answer so far, and fetch
// the answer, on any server of the database; after a day it is forgotten.
//
// A row holds everything. The server that was asked runs the calculation and renews its
// hold on the row each half second; when a server dies, the next one that is asked about
// the search takes it up anew. A server runs few at a time, the others wait their turn.
//
// Start reading at [Room.Start] and, in run.go, at (*Room).run.
package searches

import (
	"context"
	"encoding/json"
	"errors"
	"math/rand/v2"
	"runtime"
	"strings"
	"sync"
	"time"

	"kerfbook/internal/calc/contract"
	"kerfbook/internal/calc/topics"
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Limits of searches: our estimate of what a workshop needs.
const (
	StandardMS = 60_000  // how long a search takes that names no limit
	MostMS     = 600_000 // the longest
	MostOpen   = 8       // searches of one person that run or wait
	mostBook   = 24      // of all people together
	Kept       = 24 * time.Hour
)

// State says how a search stands.
type State string

// The states.
const (
	Waiting State = "waiting" // for other searches to end
	Running State = "running"
	Ended   State = "ended"
)

// Search is a long calculation.
type Search struct {
	ID       int64
	Topic    string
	About    string // what it was started for, such as "build/12/3"; empty for none
	Asked    json.RawMessage
	Limit    time.Duration
	AskedAt  time.Time
	BegunAt  *time.Time
	EndedAt  *time.Time
	Stopping bool               // told to stop
	Progress *contract.Progress // how far it was half a second ago; nil when not known yet
	Answered json.RawMessage    // the answer; nil until it has ended
}

// State says how it stands.
func (s Search) State() State {
	switch {
	case s.EndedAt != nil:
		return Ended
	case s.BegunAt != nil:
		return Running
	}
	return Waiting
}

// Took is how long it has run by now, or ran.
func (s Search) Took(now time.Time) time.Duration {
	switch {
	case s.BegunAt == nil:
		return 0
	case s.EndedAt != nil:
		now = *s.EndedAt
	}
	return max(0, now.Sub(*s.BegunAt))
}

// Room runs and keeps searches.
type Room struct {
	db    *postgres.DB
	ctx   context.Context // ends when the server stops
	stop  context.CancelFunc
	turns chan struct{} // one for each search that may run at a time
	mu    sync.Mutex
	here  map[int64]bool // searches at work or waiting on this server
	work  sync.WaitGroup
}

// New makes a Room; Close it before the database.
func New(db *postgres.DB) *Room {
	ctx, stop := context.WithCancel(context.Background())
	// Half of the processors stay with those who ask the book something.
	return &Room{db: db, ctx: ctx, stop: stop, turns: make(chan struct{}, max(1, runtime.GOMAXPROCS(0)/2)), here: map[int64]bool{}}
}

// Close stops the searches that run here and lets go of them, so that another server may
// take them up.
func (r *Room) Close() {
	r.stop()
	r.work.Wait()
}

// Ask is what to calculate and what for.
type Ask struct {
	AccountID int64
	Topic     string
	Input     json.RawMessage // of the topic; its time_limit_ms, left out, is [StandardMS]
	About     string
}

// Start begins a search. The input is tried at once: what is wrong with it is an Invalid
// error with pointers below /input. Other errors: NotFound for an unknown topic, Invalid
// for one that is never long, Conflict when too many run already.
func (r *Room) Start(ctx context.Context, a Ask) (Search, error) {
	topic, ok := topics.Find(a.Topic)
	switch {
	case !ok:
		return Search{}, fault.Bad("/topic", "There is no calculation of this name.")
	case !topic.Long:
		return Search{}, fault.Bad("/topic", "This calculation is never long; ask it at once. Long ones are %s.", strings.Join(longTopics(), ", "))
	}
	asked, limit, err := withLimit(a.Input)
	if err != nil {
		return Search{}, err
	}
	first, err := firstAnswer(ctx, topic, asked)
	if err != nil {
		return Search{}, err
	}
	s, err := r.insert(ctx, a, asked, limit, first)
	if err != nil {
		return Search{}, err
	}
	r.takeUp(s.ID)
	return s, nil
}

func longTopics() []string {
	var names []string
	for _, t := range topics.All() {
		if t.Long {
			names = append(names, t.Name)
		}
	}
	return names
}

// withLimit gives the input with a time limit, and that limit in ms.
func withLimit(input json.RawMessage) (json.RawMessage, int, error) {
	var fields map[string]json.RawMessage
	if json.Unmarshal(input, &fields) != nil || fields == nil {
		return nil, 0, fault.Bad("/input", "The input must be a JSON object.")
	}
	limit := StandardMS
	if raw, there := fields[contract.LimitField]; there && string(raw) != "null" {
		if json.Unmarshal(raw, &limit) != nil || limit < 1 || limit > MostMS {
			return nil, 0, fault.Bad("/input/"+contract.LimitField, "Must be a whole number between 1 and %d.", MostMS)
		}
		return input, limit, nil
	}
	fields[contract.LimitField] = json.RawMessage("60000")
	raw, err := json.Marshal(fields)
	return raw, limit, err
}

// firstAnswer runs a calculation whose time is up already: it gives what is found before
// any search, or what is wrong with the input.
func firstAnswer(ctx context.Context, topic contract.Topic, asked []byte) (json.RawMessage, error) {
	ctx, cancel := context.WithCancel(ctx)
	cancel()
	out, err := topic.Run(ctx, asked)
	var bad *contract.Error
	if errors.As(err, &bad) {
		e := &fault.Error{Kind: fault.Invalid, Detail: "The input needs a change."}
		for _, f := range bad.Fields {
			e.Fields = append(e.Fields, fault.Field{Pointer: "/input" + f.Pointer, Detail: f.Detail})
		}
		return nil, e
	}
	if err != nil {
		return nil, err
	}
	return json.Marshal(out)
}

// takeUp lets this server work on a search, once.
func (r *Room) takeUp(id int64) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.here[id] || r.ctx.Err() != nil {
		return
	}
	r.here[id] = true
	r.work.Go(func() {
		defer func() {
			r.mu.Lock()
			delete(r.here, id)
			r.mu.Unlock()
		}()
		r.run(id, rand.Int64())
	})
}

// Get gives a search of the account. One that no server holds any more is taken up here.
// NotFound when there is none.
func (r *Room) Get(ctx context.Context, accountID, id int64) (Search, error) {
	s, held, err := r.read(ctx, accountID, id)
	if err == nil && !held && s.EndedAt == nil {
		r.takeUp(id)
	}
	return s, err
}

// List gives the account's searches of the last day, the newest first; about, where not
// empty, names those started for one thing or for what lies below it. Without about,
// what was asked and answered is left out.
func (r *Room) List(ctx context.Context, accountID int64, about string) ([]Search, error) {
	list, loose, err := r.readAll(ctx, accountID, about)
	for _, id := range loose {
		r.takeUp(id)
	}
	return list, err
}

// Stop tells a search to end with the best answer it has; within a second it does.
// Stopping one that has ended changes nothing. NotFound when there is none.
func (r *Room) Stop(ctx context.Context, accountID, id int64) (Search, error) {
	if err := r.askStop(ctx, accountID, id); err != nil {
		return Search{}, err
	}
	return r.Get(ctx, accountID, id)
}
