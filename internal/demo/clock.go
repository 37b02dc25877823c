package demo

import (
	"sync/atomic"
	"time"
)

// Clock is a clock that is set by hand; give its Now to postgres.WithClock. It is safe
// for use by many at once. The zero Clock stands at the present.
type Clock struct{ at atomic.Int64 }

// Now is the time that was set last, or the present when none was.
func (c *Clock) Now() time.Time {
	if ns := c.at.Load(); ns != 0 {
		return time.Unix(0, ns).UTC()
	}
	return time.Now().UTC()
}

// Set moves the clock to an instant.
func (c *Clock) Set(at time.Time) { c.at.Store(at.UnixNano()) }
