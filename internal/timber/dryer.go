package timber

import (
	"context"
	"errors"
	"fmt"
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
	StartMCPct  *float64 // nil: as the species is when green
	TargetMCPct float64
	Months      [12]Month
	Readings    []Reading // oldest first
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

// AirDry is the Dryer of the calculation room for air drying.
func AirDry(_ context.Context, q DryQuestion) (DryDates, error) {
	in := drying.DryingIn{StackedOn: q.StackedOn.Format(time.DateOnly), ThicknessMM: q.ThicknessMM, Species: q.SpeciesCode, StartMCPct: q.StartMCPct, TargetMCPct: q.TargetMCPct}
	for _, m := range q.Months {
		in.Climate = append(in.Climate, drying.Month{TemperatureC: m.TemperatureC, HumidityPct: m.HumidityPct})
	}
	for _, r := range q.Readings {
		in.Readings = append(in.Readings, drying.Reading{On: r.ReadOn.Format(time.DateOnly), MCPct: r.MCPct.InexactFloat64()})
	}
	out, err := drying.Predict(in, drying.Timber{Gravity: q.Gravity})
	var bad *contract.Error
	if errors.As(err, &bad) {
		var l fault.List
		for _, f := range bad.Fields {
			l.Add(f.Pointer, "%s", f.Detail)
		}
		return DryDates{}, l.Err()
	}
	if err != nil {
		return DryDates{}, fmt.Errorf("dry dates: %w", err)
	}
	d := DryDates{Never: out.Never}
	if d.ReadyOn, err = dateOf(out.ReadyOn); err == nil {
		d.ReadyOnP80, err = dateOf(out.ReadyOnP80)
	}
	return d, err
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
