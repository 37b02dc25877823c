package web

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"kerfbook/internal/answer"
	"kerfbook/internal/calc/travel"
)

// runMap is a run drawn to scale with north up: the workshop, the stops in their order,
// and the straight lines between them.
type runMap struct {
	Width, Height string
	Way           string // points of the line
	Marks         []drawnRound
	Words         []drawnWord
	BarFrom       string // scale bar
	BarTo, BarY   string
	NorthX        string
	About         string
	Caption       string
}

// The drawing is as wide as a phone's page, so that its type is as large there as it is
// written here.
const (
	runMapWide = 328.0
	runMapEdge = 26.0
	runMapTall = 300.0 // most of the height of the ground drawn
	runMapNear = 16.0  // marks closer than this share a word
)

// runMapOf draws a run; nil where fewer than two places have coordinates. Degrees of
// longitude are drawn as long as they are at the middle latitude, which is to scale
// within a few parts in a thousand over the day's drive of a van.
func runMapOf(home *travel.Place, stops []answer.StopCare) *runMap {
	var at []travel.Place
	var names, without []string
	if home != nil {
		at, names = append(at, *home), append(names, "W")
	}
	for _, s := range stops {
		if s.To == nil {
			without = append(without, strconv.Itoa(s.Position))
			continue
		}
		at, names = append(at, *s.To), append(names, strconv.Itoa(s.Position))
	}
	if len(at) < 2 {
		return nil
	}
	m := &runMap{Width: drawn(runMapWide), About: "The run from above, north up, in the order of the table below.", Caption: "To scale, north up, straight lines. W is the workshop."}
	if len(without) > 0 {
		m.Caption += " Not drawn, because their place has no coordinates: " + strings.Join(without, ", ") + "."
	}
	xs, ys := flatKM(at)
	wide, tall := span(xs), span(ys)
	scale := math.Min((runMapWide-2*runMapEdge)/math.Max(wide, 0.01), (runMapTall-2*runMapEdge)/math.Max(tall, 0.01))
	height := tall*scale + 2*runMapEdge
	left := (runMapWide - wide*scale) / 2
	var points []string
	for i := range at {
		xs[i], ys[i] = left+xs[i]*scale, height-runMapEdge-ys[i]*scale
		points = append(points, drawn(xs[i])+","+drawn(ys[i]))
		m.Marks = append(m.Marks, drawnRound{drawn(xs[i]), drawn(ys[i]), "4", names[i] == "W"})
	}
	if home != nil {
		points = append(points, points[0])
	}
	m.Way, m.Words = strings.Join(points, " "), markWords(xs, ys, names)
	m.bar(scale, height)
	return m
}

// bar lays the scale bar, a round number of kilometres of a quarter of the width at most.
func (m *runMap) bar(scale, height float64) {
	most := runMapWide / 4 / scale
	km := math.Pow(10, math.Floor(math.Log10(most)))
	for _, k := range []float64{5, 2} {
		if k*km <= most {
			km *= k
			break
		}
	}
	m.BarFrom, m.BarTo, m.BarY, m.NorthX = drawn(8), drawn(8+km*scale), drawn(height+14), drawn(runMapWide-14)
	text := fmt.Sprintf("%g km", km)
	if km < 1 {
		text = fmt.Sprintf("%.0f m", km*1000)
	}
	m.Words = append(m.Words, drawnWord{drawn(14 + km*scale), drawn(height + 19), text})
	m.Height = drawn(height + 28)
}

// markWords puts a word beside each mark; marks that lie close together share one.
func markWords(xs, ys []float64, names []string) []drawnWord {
	var out []drawnWord
	taken := make([]bool, len(xs))
	for i := range xs {
		if taken[i] {
			continue
		}
		word := names[i]
		for j := i + 1; j < len(xs); j++ {
			if !taken[j] && math.Hypot(xs[j]-xs[i], ys[j]-ys[i]) < runMapNear {
				taken[j] = true
				word += ", " + names[j]
			}
		}
		x := xs[i] + 7
		if room := float64(len(word)) * logEndType * wordPerType; x+room > runMapWide-2 {
			x = xs[i] - 7 - room
		}
		out = append(out, drawnWord{drawn(x), drawn(ys[i] - 6), word})
	}
	return out
}

// flatKM lays places on a plane, kilometres east and north of the least of each. A degree
// of latitude is 111.2 km (from memory, within half a percent anywhere).
func flatKM(at []travel.Place) (xs, ys []float64) {
	low, high := at[0].Latitude, at[0].Latitude
	for _, p := range at {
		low, high = math.Min(low, p.Latitude), math.Max(high, p.Latitude)
	}
	shrink := math.Cos((low + high) / 2 * math.Pi / 180)
	for _, p := range at {
		east := math.Remainder(p.Longitude-at[0].Longitude, 360) // the short way over the date line
		xs, ys = append(xs, east*111.2*shrink), append(ys, (p.Latitude-low)*111.2)
	}
	least := xs[0]
	for _, x := range xs {
		least = math.Min(least, x)
	}
	for i := range xs {
		xs[i] -= least
	}
	return xs, ys
}

func span(list []float64) float64 {
	low, high := list[0], list[0]
	for _, v := range list {
		low, high = math.Min(low, v), math.Max(high, v)
	}
	return high - low
}
