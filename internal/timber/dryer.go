package timber

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"kerfbook/internal/calc/contract"
	"kerfbook/internal/calc/drying"
	"kerfbook/internal/fault"
)

// DryQuestion asks when a pack will be dry.
type DryQuestion struct {
	StackedOn   time.Time
	ThicknessMM float64 // green
	SpeciesCode string
	Gravity     float64  // oven-dry mass on volume at 12 %
	GreenMCPct  float64  // usual moisture of the timber when sawn; 0: not known
	Slowness    float64  // how many times as long it dries as its density says; 0: as that
	StartMCPct  *float64 // nil: as the species is when green
	TargetMCPct float64
	Months      [12]Month
	Readings    []Reading  // oldest first
	Later       []DryPlace // where it was or will be moved to, in order of date
	AsOf        *time.Time // nil: the last reading
}

// DryPlace is the air of a place from a day on.
type DryPlace struct {
	FromOn time.Time
	Months [12]Month
}

// DryDates is when a pack will be dry: with even odds, and with 4-in-5 odds, nil where it
// stays less sure than that. When Never, the climate cannot reach the target and both are
// nil.
type DryDates struct {
	ReadyOn, ReadyOnP80 *time.Time
	Never               bool
}

// Dryer works out when a pack will be dry.
type Dryer func(context.Context, DryQuestion) (DryDates, error)

// DryCurve is the whole forecast of a pack.
type DryCurve struct {
	DryDates
	Pace         float64 // against what the timber and the weather say; 1 is as expected
	DriestEMCPct float64 // the driest that the air of a day still to come asks for
	Points       []DryPoint
}

// DryPoint is one day of the forecast.
type DryPoint struct {
	On                     time.Time
	MCPct, LowPct, HighPct float64 // expected, and between which eight in ten lie
	EMCPct, Chance         float64
}

// AirDry is the Dryer of the calculation room for air drying.
func AirDry(_ context.Context, q DryQuestion) (DryDates, error) {
	c, err := AirCurve(q)
	return c.DryDates, err
}

// AirCurve gives the whole forecast. Errors: Invalid, at the fields of a pack or of a reading.
func AirCurve(q DryQuestion) (DryCurve, error) {
	out, err := drying.Predict(q.in(), drying.Timber{Gravity: q.Gravity, GreenMCPct: q.GreenMCPct, Slowness: q.Slowness})
	var bad *contract.Error
	if errors.As(err, &bad) {
		var l fault.List
		for _, f := range bad.Fields {
			l.Add(pointerOf(f.Pointer), "%s", f.Detail)
		}
		return DryCurve{}, l.Err()
	}
	if err != nil {
		return DryCurve{}, fmt.Errorf("dry dates: %w", err)
	}
	c := DryCurve{DryDates: DryDates{Never: out.Never}, Pace: out.Pace, DriestEMCPct: out.DriestEMCPct}
	if c.ReadyOn, err = dateOf(out.ReadyOn); err != nil {
		return c, err
	}
	if c.ReadyOnP80, err = dateOf(out.ReadyOnP80); err != nil {
		return c, err
	}
	for _, p := range out.Curve {
		on, err := dateOf(&p.On)
		if err != nil {
			return c, err
		}
		c.Points = append(c.Points, DryPoint{On: *on, MCPct: p.MCPct, LowPct: p.LowPct, HighPct: p.HighPct, EMCPct: p.EMCPct, Chance: p.Chance})
	}
	return c, nil
}

// in gives the question as the calculation takes it.
func (q DryQuestion) in() drying.DryingIn {
	in := drying.DryingIn{StackedOn: q.StackedOn.Format(time.DateOnly), ThicknessMM: q.ThicknessMM, Species: q.SpeciesCode, StartMCPct: q.StartMCPct,
		TargetMCPct: q.TargetMCPct, Climate: monthsOf(q.Months)}
	for _, r := range q.Readings {
		in.Readings = append(in.Readings, drying.Reading{On: r.ReadOn.Format(time.DateOnly), MCPct: r.MCPct.InexactFloat64()})
	}
	for _, l := range q.Later {
		in.ClimatesLater = append(in.ClimatesLater, drying.ClimateFrom{From: l.FromOn.Format(time.DateOnly), Climate: monthsOf(l.Months)})
	}
	if q.AsOf != nil {
		in.AsOf = q.AsOf.Format(time.DateOnly)
	}
	return in
}

func monthsOf(months [12]Month) []drying.Month {
	out := make([]drying.Month, len(months))
	for i, m := range months {
		out[i] = drying.Month{TemperatureC: m.TemperatureC, HumidityPct: m.HumidityPct}
	}
	return out
}

// pointerOf gives the field of a pack or a reading that a pointer of the calculation is about.
func pointerOf(pointer string) string {
	switch {
	case pointer == "/species":
		return "/species_id"
	case strings.HasPrefix(pointer, "/readings") && strings.HasSuffix(pointer, "/on"):
		return "/read_on"
	case strings.HasPrefix(pointer, "/readings"):
		return "/meter_pct"
	case strings.HasPrefix(pointer, "/climates_later"):
		return "/from_on"
	case strings.HasPrefix(pointer, "/climate"):
		return "/climate_id"
	}
	return pointer
}

func dateOf(s *string) (*time.Time, error) {
	if s == nil {
		return nil, nil
	}
	t, err := time.Parse(time.DateOnly, *s)
	if err != nil {
		return nil, fmt.Errorf("dry date %q: %w", *s, err)
	}
	return &t, nil
}
