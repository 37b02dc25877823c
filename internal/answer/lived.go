package answer

import (
	"context"
	"sync"
	"time"

	"kerfbook/internal/apiary"
	"kerfbook/internal/calc/waiting"
)

// livedMemo keeps for one business day what was heard of the colonies given to buyers, by kind.
type livedMemo struct {
	mu  sync.Mutex
	day time.Time
	of  map[int64]lived
}

type lived struct {
	years float64
	lost  int
}

// beeRates gives the rates of a kind: what the workshop's own log teaches, and how many of the colonies given to buyers
// lived on.
func (r *Room) beeRates(ctx context.Context, sp apiary.Species, loc *time.Location, day time.Time) (waiting.Rates, error) {
	rates, err := r.Apiary.RatesOf(ctx, sp, loc, day)
	if err != nil {
		return rates, err
	}
	r.livedOn.mu.Lock()
	had, ok := r.livedOn.of[sp.ID]
	ok = ok && r.livedOn.day.Equal(day)
	r.livedOn.mu.Unlock()
	if !ok {
		if had.years, had.lost, err = r.Handover.Lived(ctx, sp.ID); err != nil {
			return rates, err
		}
		r.livedOn.mu.Lock()
		if r.livedOn.of == nil || !r.livedOn.day.Equal(day) {
			r.livedOn.day, r.livedOn.of = day, map[int64]lived{}
		}
		r.livedOn.of[sp.ID] = had
		r.livedOn.mu.Unlock()
	}
	return rates.WithLosses(had.years, had.lost), nil
}
