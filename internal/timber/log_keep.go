package timber

import (
	"fmt"
	"time"

	"kerfbook/internal/fault"
)

// How many days a log lies before stain and borers take hold, in the warm and in the cool
// half of the year. Common practice, no source: pale wood stains within weeks in warm,
// damp weather, more slowly in winter; sealed ends gain half as much again; a timber whose
// sapwood borers like has two thirds of the time.
const (
	keepsWarmDays   = 30.0
	keepsCoolDays   = 60.0
	sealedKeeps     = 1.5
	borersKeep      = 2.0 / 3
	longestKeepDays = 400
)

// MillBy gives the day by which a log should be sawn, and why in a sentence. Each day that
// it lies uses up its share of the days it keeps in that season. south says that the
// workshop lies south of the equator, where October to March are warm. A log without a
// felling date has no such day.
func (g Log) MillBy(borersLikeSapwood, south bool) (by time.Time, why string, ok bool) {
	if g.FelledOn == nil {
		return time.Time{}, "Write down when it was felled, and the day by which to mill it is worked out.", false
	}
	keeps := 1.0
	why = "It keeps about " + fmt.Sprintf("%.0f days in the warm half of the year, %.0f in the cool one", keepsWarmDays, keepsCoolDays)
	if g.EndsSealed {
		keeps *= sealedKeeps
		why += "; half as long again, as its ends are sealed"
	} else {
		why += "; seal its ends to gain half as long again"
	}
	if borersLikeSapwood {
		keeps *= borersKeep
		why += "; a third less, as borers like its sapwood"
	}
	why += ". Common practice, no source: look for stain and small round holes."
	used := 0.0
	day := *g.FelledOn
	for range longestKeepDays {
		used += 1 / (keeps * keepsOn(day, south))
		if used > 1+1e-9 {
			break
		}
		day = day.AddDate(0, 0, 1)
	}
	return day, why, true
}

// keepsOn gives the days a log keeps by the season of that day.
func keepsOn(day time.Time, south bool) float64 {
	m := day.Month()
	if warm := m >= time.April && m <= time.September; warm != south {
		return keepsWarmDays
	}
	return keepsCoolDays
}

// LogWish is what is wanted of a log.
type LogWish struct {
	HeartBoxMM float64    `json:"heart_box_mm"` // side of a square at the pith that no board may enter; 0: none
	ShortestMM int        `json:"shortest_mm"`  // shortest board of use; 0: the workshop's
	Sizes      []WishSize `json:"sizes"`        // dressed; empty: those of the models in use
}

// WishSize is a board size wanted, as dressed.
type WishSize struct {
	WidthMM     float64 `json:"width_mm"`
	ThicknessMM float64 `json:"thickness_mm"`
	ValueMinor  *int64  `json:"value_minor,omitempty"` // of a metre; nil: what a metre costs by the book
}

// KeepValues takes the values of equal sizes from an earlier wish.
func (w *LogWish) KeepValues(was *LogWish) {
	if was == nil {
		return
	}
	for i, z := range w.Sizes {
		for _, o := range was.Sizes {
			if o.WidthMM == z.WidthMM && o.ThicknessMM == z.ThicknessMM {
				w.Sizes[i].ValueMinor = o.ValueMinor
			}
		}
	}
}

// mostWishes is how many sizes are looked for in one log at most.
const mostWishes = 12

// Check refuses a wish that no log fulfils.
func (w LogWish) Check() error {
	var l fault.List
	l.Check(w.HeartBoxMM >= 0 && w.HeartBoxMM <= 2000, "/heart_box_mm", "The heart box must lie between 0 and 2000 mm.")
	l.Check(w.ShortestMM == 0 || w.ShortestMM >= 100 && w.ShortestMM <= 20_000, "/shortest_mm", "The shortest board of use must lie between 100 and 20000 mm.")
	l.Check(len(w.Sizes) <= mostWishes, "/sizes", "At most %d sizes are looked for in one log. Leave some out.", mostWishes)
	seen := map[[2]float64]bool{}
	for i, z := range w.Sizes {
		at := fmt.Sprintf("/sizes/%d", i)
		l.Check(z.WidthMM >= 5 && z.WidthMM <= 2000, at+"/width_mm", "The width must lie between 5 and 2000 mm.")
		l.Check(z.ThicknessMM >= 5 && z.ThicknessMM <= 500 && z.ThicknessMM <= z.WidthMM, at+"/thickness_mm", "The thickness is the smaller of the two, between 5 and 500 mm.")
		l.Check(z.ValueMinor == nil || *z.ValueMinor >= 0 && *z.ValueMinor <= 1_000_000_000, at+"/value_minor", "A value cannot be below zero.")
		key := [2]float64{z.WidthMM, z.ThicknessMM}
		l.Check(!seen[key], at+"/width_mm", "This size stands there twice.")
		seen[key] = true
	}
	return l.Err()
}
