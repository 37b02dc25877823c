package sawing

import (
	"fmt"
	"math"
	"sort"
)

// checkLayout is apart from the search: it refuses a board that is not of a size
// asked, is too short, leaves the log, enters the heart box, or lies nearer to
// another than a kerf.
func checkLayout(in PatternIn, layout []Laid) error {
	size := map[string]BoardIn{}
	for _, b := range in.Boards {
		size[b.ID] = b
	}
	for i, l := range layout {
		b, ok := size[l.ID]
		flat := l.WidthMM == b.WidthMM && l.ThicknessMM == b.ThicknessMM
		edge := l.WidthMM == b.ThicknessMM && l.ThicknessMM == b.WidthMM
		if !ok || !flat && !edge {
			return fmt.Errorf("board %d is of no size that was asked", i)
		}
		least := in.LengthMM
		if b.MinLengthMM != nil {
			least = *b.MinLengthMM
		}
		end := l.FromButtMM + l.LengthMM
		if l.LengthMM < least-roundingMM || l.FromButtMM < 0 || end > in.LengthMM+roundingMM {
			return fmt.Errorf("board %d has a length of %g mm", i, l.LengthMM)
		}
		radius := (in.LargeEndMM-in.SweepMM)/2 - (in.LargeEndMM-in.SmallEndMM)/2*end/in.LengthMM
		x := math.Max(math.Abs(l.XMM), math.Abs(l.XMM+l.WidthMM))
		y := math.Max(math.Abs(l.YMM), math.Abs(l.YMM+l.ThicknessMM))
		if math.Hypot(x, y) > radius+roundingMM {
			return fmt.Errorf("board %d leaves the log", i)
		}
		box := in.HeartBoxMM / 2
		if box > 0 && apart(l, Laid{XMM: -box, YMM: -box, WidthMM: 2 * box, ThicknessMM: 2 * box}) < -roundingMM {
			return fmt.Errorf("board %d enters the heart box", i)
		}
		for j, o := range layout[:i] {
			beside := l.FromButtMM < o.FromButtMM+o.LengthMM-roundingMM && o.FromButtMM < l.FromButtMM+l.LengthMM-roundingMM
			if beside && apart(l, o) < in.KerfMM-roundingMM {
				return fmt.Errorf("boards %d and %d lie nearer than a kerf", j, i)
			}
		}
	}
	return nil
}

// apart gives the larger of the gaps between two boards along x and along y;
// negative when they overlap.
func apart(a, b Laid) float64 {
	x := math.Max(a.XMM-b.XMM-b.WidthMM, b.XMM-a.XMM-a.WidthMM)
	y := math.Max(a.YMM-b.YMM-b.ThicknessMM, b.YMM-a.YMM-a.ThicknessMM)
	return math.Max(x, y)
}

// level is a row's lower and upper edge.
type level struct{ low, high float64 }

func levels(layout []Laid) []level {
	var out []level
	seen := map[float64]bool{}
	for _, l := range layout {
		if !seen[l.YMM] {
			seen[l.YMM] = true
			out = append(out, level{l.YMM, l.YMM + l.ThicknessMM})
		}
	}
	sort.Slice(out, func(i, j int) bool { return out[i].low > out[j].low })
	return out
}

// sawHeights gives the height of the blade's lower side for each level cut, from
// the top down: one on top of each row, and one below it unless that is the cut
// on top of the next.
func sawHeights(layout []Laid, kerfMM float64) []float64 {
	out := []float64{}
	rows := levels(layout)
	for i, r := range rows {
		out = append(out, r.high)
		if i+1 == len(rows) || r.low-rows[i+1].high > kerfMM+2*finest {
			out = append(out, r.low-kerfMM)
		}
	}
	return out
}

// sawdustM3 estimates what the blade turns to dust: the level cuts through the
// middle of the log, and in each row the cuts on both sides of every board.
func (in PatternIn) sawdustM3(out PatternOut) float64 {
	mean := (in.SmallEndMM + in.LargeEndMM) / 4
	total := 0.0
	for _, h := range out.SawHeightsMM {
		y := h + in.KerfMM/2
		if half2 := mean*mean - y*y; half2 > 0 {
			total += 2 * math.Sqrt(half2) * in.KerfMM * in.LengthMM
		}
	}
	for i, l := range out.Layout {
		total += in.KerfMM * l.ThicknessMM * (l.LengthMM + in.leftCutMM(out.Layout, i))
	}
	return total / mm3PerM3
}

// leftCutMM gives how much of the cut on the left of a board is not the cut on
// the right of another as well.
func (in PatternIn) leftCutMM(layout []Laid, i int) float64 {
	l := layout[i]
	length := l.LengthMM
	for _, o := range layout {
		gap := l.XMM - o.XMM - o.WidthMM
		if o.YMM == l.YMM && gap > -roundingMM && gap <= in.KerfMM+2*finest {
			from, to := math.Max(l.FromButtMM, o.FromButtMM), math.Min(l.FromButtMM+l.LengthMM, o.FromButtMM+o.LengthMM)
			length -= math.Max(0, to-from)
		}
	}
	return math.Max(0, length)
}
