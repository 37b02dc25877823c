package timber

import (
	"context"
	"math"
	"time"
)

// Forecast is how a pack will dry, for its page: the curve, or what is missing for one, and
// what another place or another target would do.
type Forecast struct {
	Lack      string // "climate" or "density": what the curve cannot be drawn without; empty: nothing
	Curve     DryCurve
	Elsewhere []Elsewhere // other drying places, if it were moved there today
	Reachable *int        // the lowest whole percent that its place brings it to; nil: its target, or none up to 30 %
	Start     string      // where the moisture at stacking is from: measured, species or usual
}

// Elsewhere is what a move today to another drying place would do.
type Elsewhere struct {
	ClimateID int64
	Name      string
	Kind      string
	DryDates
}

// mostElsewhere bounds how many other places a forecast looks at.
const mostElsewhere = 4

// PackForecast works out how a pack will dry, from the figures of timber and weather as
// they are now. Nothing is stored.
func (r *Room) PackForecast(ctx context.Context, p Pack) (Forecast, error) {
	var f Forecast
	q, lack, err := packQuestion(ctx, r.db, p)
	if err != nil || lack != "" {
		return Forecast{Lack: lack}, err
	}
	f.Start = "usual"
	switch {
	case q.StartMCPct != nil:
		f.Start = "measured"
	case q.GreenMCPct > 0:
		f.Start = "species"
	}
	if f.Curve, err = AirCurve(q); err != nil {
		return f, err
	}
	if p.FinishedAt != nil || f.Curve.ReadyOn != nil && dryAlready(p) {
		return f, nil
	}
	if f.Curve.Never {
		f.Reachable = lowestReachable(q, f.Curve.DriestEMCPct)
	}
	today, err := r.today(ctx, r.db)
	if err != nil {
		return f, err
	}
	f.Elsewhere, err = r.elsewhere(ctx, p, q, today)
	return f, err
}

// dryAlready reports whether the latest reading is down to the target.
func dryAlready(p Pack) bool {
	return p.LatestMCPct != nil && p.LatestMCPct.LessThanOrEqual(p.TargetMCPct)
}

// lowestReachable tries whole percents above what the air asks for.
func lowestReachable(q DryQuestion, driest float64) *int {
	first := int(math.Max(math.Ceil(driest), math.Ceil(q.TargetMCPct)))
	for pct := first; pct <= min(first+4, 30); pct++ {
		q.TargetMCPct = float64(pct)
		if c, err := AirCurve(q); err == nil && !c.Never {
			return &pct
		}
	}
	return nil
}

// elsewhere asks what a move today to each of the other places would do, chambers first.
func (r *Room) elsewhere(ctx context.Context, p Pack, q DryQuestion, today time.Time) ([]Elsewhere, error) {
	list, err := r.ClimateList(ctx)
	if err != nil {
		return nil, err
	}
	var out []Elsewhere
	for _, chambers := range []bool{true, false} {
		for _, c := range list {
			if (c.Kind != Outdoors) != chambers || c.ID == p.climateOn(today) || len(out) == mostElsewhere {
				continue
			}
			moved := q
			moved.Later = append(untilDay(q.Later, today), DryPlace{today, c.Months})
			moved.AsOf = &today
			curve, err := AirCurve(moved)
			if err != nil {
				return nil, err
			}
			out = append(out, Elsewhere{ClimateID: c.ID, Name: c.Name, Kind: c.Kind, DryDates: curve.DryDates})
		}
	}
	return out, nil
}

// untilDay gives the moves before a day.
func untilDay(later []DryPlace, on time.Time) []DryPlace {
	var out []DryPlace
	for _, l := range later {
		if l.FromOn.Before(on) {
			out = append(out, l)
		}
	}
	return out
}

// climateOn gives the climate that a pack stands in on a day; 0 where none is known.
func (p Pack) climateOn(on time.Time) int64 {
	if at := p.PlaceOn(on); at != nil {
		return at.ClimateID
	}
	if p.ClimateID == nil {
		return 0
	}
	return *p.ClimateID
}
