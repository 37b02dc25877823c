package cutting

import (
	"context"
	"time"

	"kerfbook/internal/calc/contract"
)

// effort counts the work of a search and says when to stop: at the work limit,
// at the deadline, or when the caller gives up. One step of work is about one
// machine word or one table cell touched.
type effort struct {
	ctx      context.Context
	deadline time.Time
	limit    int
	work     int
	looked   int // work at which the clock was last read
	over     bool
	watch    *contract.Watch          // who wants to know how far it is; nil for nobody
	how      func() contract.Progress // how far it is
}

// lookEvery is the work between two looks at the clock: some tens of
// microseconds.
const lookEvery = 50000

// spend adds n steps and gives false when the search must stop.
func (e *effort) spend(n int) bool {
	e.work += n
	if e.work >= e.limit {
		e.over = true
	}
	if e.work-e.looked >= lookEvery {
		e.looked = e.work
		if e.ctx.Err() != nil || !time.Now().Before(e.deadline) {
			e.over = true
		}
		if e.how != nil {
			e.watch.Tell(e.how)
		}
	}
	return !e.over
}

// within gives a smaller share of the effort: at most n further steps. Work done
// under it counts for both.
func (e *effort) within(n int, do func()) {
	limit := e.limit
	e.limit = min(limit, e.work+n)
	do()
	e.limit = limit
	if e.work < limit && e.ctx.Err() == nil && time.Now().Before(e.deadline) {
		e.over = false
	}
}

// extra is a further effort of n steps under the same clock, for what is done
// after the search.
func (e *effort) extra(n int) *effort {
	x := &effort{ctx: e.ctx, deadline: e.deadline, limit: n}
	x.over = e.ctx.Err() != nil || !time.Now().Before(e.deadline)
	return x
}
