package waiting

import (
	"slices"
	"time"
)

// Prior is what holds of a kind of bee before the log says otherwise: its own figures.
type Prior struct {
	IntervalMonths float64 // rest between two splits of a colony; 0: not known
	Months         []int   // in which splits are made, 1 to 12; none: not known
	SettlingWeeks  float64 // from split to settled; 0: not known
	SplitChance    float64 // that a split settles, over good and bad seasons, 0 to 1
}

// Rest is the time of a colony from one split to the next, or to the last day on which it
// could still have been split.
type Rest struct {
	From, To time.Time
	Split    bool // it ended with a split
}

// How a settling ended.
const (
	Settled = "settled"
	Lost    = "lost"
	Open    = "open" // still settling on the last day
)

// Settling is what became of a split: from the day of the split to the day it was seen
// settled or lost, or to the last day known of it.
type Settling struct {
	From, To time.Time
	How      string
}

// Log is what the book tells of the colonies of one kind.
type Log struct {
	Rests      []Rest
	Settlings  []Settling
	StandYears float64 // that settled colonies stood in the workshop's keeping, together
	StandLost  int     // settled colonies lost in that time
}

// usable reports whether anything can be said about splits: from figures or from a log
// of some length.
func (p Prior) usable(l Log) bool {
	ended := 0
	for _, r := range l.Rests {
		if r.Split {
			ended++
		}
	}
	return (p.IntervalMonths > 0 && len(p.Months) > 0 || ended >= enoughRests) && (p.SettlingWeeks > 0 || len(l.Settlings) >= enoughRests)
}

// enoughRests is how much log stands in for a figure that is missing; our estimate.
const enoughRests = 6

// filled puts a wide guess where a figure is missing and the log must speak.
func (p Prior) filled() Prior {
	if p.IntervalMonths <= 0 {
		p.IntervalMonths = 12
	}
	if p.SettlingWeeks <= 0 {
		p.SettlingWeeks = 10
	}
	if len(p.Months) == 0 {
		p.Months = []int{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}
	}
	return p
}

// seasonStart is the month a season begins with: the one after the longest run of months
// without splits, January where splits are made all year.
func seasonStart(months []int) time.Month {
	start, longest := time.January, 0
	for m := 1; m <= 12; m++ {
		if !slices.Contains(months, m) {
			continue
		}
		gap := 0
		for back := (m + 10) % 12; gap < 12 && !slices.Contains(months, back+1); back = (back + 11) % 12 {
			gap++
		}
		if gap > longest {
			start, longest = time.Month(m), gap
		}
	}
	return start
}

// seasonOf is the year in which the season that day lies in began; days before the first
// month of a season belong to the one before.
func seasonOf(start time.Month, day time.Time) int {
	if day.Month() < start {
		return day.Year() - 1
	}
	return day.Year()
}

const daysAMonth = 365.25 / 12

func days(from, to time.Time) float64 { return to.Sub(from).Hours() / 24 }
