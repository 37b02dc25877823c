package timber

import (
	"context"
	"time"
)

// DryQuestion asks when a pack will be dry.
type DryQuestion struct {
	StackedOn   time.Time
	ThicknessMM float64 // green
	SpeciesCode string
	StartMCPct  *float64 // nil: as the species is when green
	TargetMCPct float64
	Months      [12]Month
	Readings    []Reading // oldest first
}

// DryDates is when a pack will be dry: with even odds, and with 4-in-5 odds. When Never,
// the climate cannot reach the target and both are nil.
type DryDates struct {
	ReadyOn, ReadyOnP80 *time.Time
	Never               bool
}

// Dryer works out when a pack will be dry.
type Dryer func(context.Context, DryQuestion) (DryDates, error)
