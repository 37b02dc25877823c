package apiary

import (
	"context"
	"slices"
	"sync"
	"time"

	"kerfbook/internal/calc/waiting"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// logYears is how far back the log teaches: what was done longer ago says little of what is
// done now. logMost bounds the colonies read for it, the newest first. Our estimates.
const (
	logYears = 10
	logMost  = 4000
)

// lifeRow is a colony of the workshop as the log tells its life.
type lifeRow struct {
	ID        int64      `db:"id"`
	ParentID  *int64     `db:"parent_id"` // by a split
	SplitOn   *time.Time `db:"split_on"`
	SettledOn *time.Time `db:"settled_on"`
	BeganOn   *time.Time `db:"began_on"`
	EndedAt   *time.Time `db:"ended_at"`
	LeftAt    *time.Time `db:"left_at"` // given away
	Kept      bool       `db:"kept"`
}

const lifeSelect = `SELECT c.id, s.parent_id, coalesce(s.happened_on, c.began_on) AS split_on, c.settled_on, c.began_on, c.ended_at, o.to_at AS left_at, coalesce(c.kept_to_split, false) AS kept
FROM colony c JOIN LATERAL (SELECT x.bee_species_id FROM colony_species x WHERE x.colony_id = c.id ORDER BY x.found_on DESC, x.id DESC LIMIT 1) f ON f.bee_species_id = $1
JOIN LATERAL (SELECT w.to_at FROM colony_owner w WHERE w.colony_id = c.id AND w.party_id IS NULL ORDER BY w.from_at DESC, w.id DESC LIMIT 1) o ON true
LEFT JOIN LATERAL (SELECT p.parent_id, p.happened_on FROM colony_parent p WHERE p.colony_id = c.id AND p.kind = 'split' ORDER BY p.id LIMIT 1) s ON true
WHERE c.ended_at IS NULL OR c.ended_at >= $2 ORDER BY c.id DESC LIMIT $3`

// LogOf gives what the book tells of the colonies of a kind up to day, as the reckoning of
// the line takes it: rests between splits, what became of splits, and the losses of settled
// colonies while they were the workshop's.
func (r *Room) LogOf(ctx context.Context, species int64, loc *time.Location, day time.Time) (waiting.Log, error) {
	since := day.AddDate(-logYears, 0, 0)
	rows, err := postgres.List[lifeRow](ctx, r.db, lifeSelect, species, since, logMost)
	if err != nil {
		return waiting.Log{}, err
	}
	return readLog(rows, loc, since, day), nil
}

func readLog(rows []lifeRow, loc *time.Location, since, day time.Time) waiting.Log {
	var l waiting.Log
	splits := map[int64][]time.Time{}
	for _, x := range rows {
		if x.ParentID != nil && x.SplitOn != nil && !x.SplitOn.Before(since) && !x.SplitOn.After(day) {
			splits[*x.ParentID] = append(splits[*x.ParentID], *x.SplitOn)
		}
	}
	for _, x := range rows {
		end, lost := day, false
		if x.LeftAt != nil && x.LeftAt.Before(day) {
			end = house.DateIn(*x.LeftAt, loc)
		}
		if x.EndedAt != nil {
			if on := house.DateIn(*x.EndedAt, loc); !on.After(end) {
				end, lost = on, true
			}
		}
		if s, ok := x.settling(end, lost, day); ok && !s.From.Before(since) {
			l.Settlings = append(l.Settlings, s)
		}
		if x.SettledOn != nil && x.SettledOn.Before(end) && end.After(since) {
			from := *x.SettledOn
			if from.Before(since) {
				from = since
			}
			l.StandYears += end.Sub(from).Hours() / 24 / 365.25
			if lost {
				l.StandLost++
			}
		}
		l.Rests = append(l.Rests, x.rests(splits[x.ID], end)...)
		delete(splits, x.ID)
	}
	for _, on := range splits { // of parents that were never the workshop's, or are long gone
		l.Rests = append(l.Rests, lifeRow{}.rests(on, time.Time{})...)
	}
	return l
}

// settling says what became of a split; false for a colony that is none, or that was given
// away before it settled.
func (x lifeRow) settling(end time.Time, lost bool, day time.Time) (waiting.Settling, bool) {
	if x.ParentID == nil || x.SplitOn == nil || x.SplitOn.After(day) {
		return waiting.Settling{}, false
	}
	s := waiting.Settling{From: *x.SplitOn, To: end, How: waiting.Open}
	switch {
	case x.SettledOn != nil && !x.SettledOn.After(day):
		s.To, s.How = *x.SettledOn, waiting.Settled
	case lost:
		s.How = waiting.Lost
	case x.LeftAt != nil:
		return s, false
	}
	return s, !s.To.Before(s.From)
}

// rests gives the times between the splits of a colony, and the one it is in until end.
// Splits of one day or week are one.
func (x lifeRow) rests(on []time.Time, end time.Time) []waiting.Rest {
	var list []waiting.Rest
	slices.SortFunc(on, time.Time.Compare)
	if len(on) == 0 && x.Kept {
		if x.BeganOn != nil {
			on = append(on, *x.BeganOn)
		} else if x.SettledOn != nil {
			on = append(on, *x.SettledOn)
		}
	}
	for i, from := range on {
		switch {
		case i+1 < len(on) && on[i+1].Sub(from) > 7*24*time.Hour:
			list = append(list, waiting.Rest{From: from, To: on[i+1], Split: true})
		case i+1 == len(on) && end.After(from):
			list = append(list, waiting.Rest{From: from, To: end})
		}
	}
	return list
}

// Prior is what the figures of the kind say before its log does.
func (s Species) Prior() waiting.Prior {
	p := waiting.Prior{SplitChance: s.SplitChancePct / 100}
	if s.SplitIntervalMonths != nil {
		p.IntervalMonths = float64(*s.SplitIntervalMonths)
	}
	if s.SettlingWeeks != nil {
		p.SettlingWeeks = max(0.2, float64(*s.SettlingWeeks))
	}
	for _, m := range s.SplitMonths {
		p.Months = append(p.Months, int(m))
	}
	return p
}

// ratesMemo keeps what was learnt of a kind until something is written to the log, so that
// an answer does not read years of it.
type ratesMemo struct {
	mu    sync.Mutex
	rates map[int64]learntRates
}

type learntRates struct {
	of    logMark
	rates waiting.Rates
}

// logMark tells one state of the log from another: the last colony, event and movement,
// the figures of the kind, and the day.
type logMark struct {
	Colony   int64  `db:"colony"`
	Event    int64  `db:"event"`
	Movement int64  `db:"movement"`
	Version  int    `db:"version"`
	Day      string `db:"day"`
}

// RatesOf gives the rates of a kind as its log teaches them by day.
func (r *Room) RatesOf(ctx context.Context, s Species, loc *time.Location, day time.Time) (waiting.Rates, error) {
	now, err := postgres.One[logMark](ctx, r.db, `SELECT coalesce((SELECT max(id) FROM colony), 0) AS colony, coalesce((SELECT max(id) FROM colony_event), 0) AS event,
	coalesce((SELECT max(id) FROM movement), 0) AS movement, $1::int AS version, $2::text AS day`, s.Version, day.Format(time.DateOnly))
	if err != nil {
		return waiting.Rates{}, err
	}
	r.learnt.mu.Lock()
	had, ok := r.learnt.rates[s.ID]
	r.learnt.mu.Unlock()
	if ok && had.of == now {
		return had.rates, nil
	}
	l, err := r.LogOf(ctx, s.ID, loc, day)
	if err != nil {
		return waiting.Rates{}, err
	}
	rates := waiting.Learn(s.Prior(), l)
	r.learnt.mu.Lock()
	defer r.learnt.mu.Unlock()
	if r.learnt.rates == nil {
		r.learnt.rates = map[int64]learntRates{}
	}
	r.learnt.rates[s.ID] = learntRates{now, rates}
	return rates, nil
}
