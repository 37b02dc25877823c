package promise

import (
	"context"
	"fmt"
	"sort"
	"time"

	"kerfbook/internal/calc/contract"
)

const (
	// MaxParts bounds the parts; a job has a handful.
	MaxParts = 200
	// MaxPoints bounds the curve of one part; by the day it covers some years.
	MaxPoints = 10000
	// defaultCertaintyPct is four in five.
	defaultCertaintyPct = 80
	// chanceTol lets a product that equals the certainty on paper count as
	// reached although it differs in the last binary digits.
	chanceTol = 1e-12
	// fallTol forgives a calculated curve its rounding before it is called falling.
	fallTol = 1e-9
	// Independence is the sentence that goes with every answer.
	Independence = "the parts are taken as independent: the chance of all is the product of the chances of each"
)

// Point is one step of a curve.
type Point struct {
	On     string  `json:"on" need:"yes"`     // date, YYYY-MM-DD
	Chance float64 `json:"chance" need:"yes"` // that the part is there by then, 0 to 1
}

// Part is one thing the job waits for. Points may stand in any order; a chance
// never falls with time. Without points the part never comes.
type Part struct {
	ID    string  `json:"id" need:"yes"`
	Curve []Point `json:"curve" need:"yes"`
}

// In is the input of Promise.
type In struct {
	Parts        []Part   `json:"parts" need:"yes"`
	CertaintyPct *float64 `json:"certainty_pct,omitempty"` // above 0, to 100; default 80
}

// Out is the answer: On or Never. With Never, Chance and ChanceOfEach are those
// after the last step of all, and Decides is the part least likely then.
type Out struct {
	On           string             `json:"on,omitempty"`
	Never        bool               `json:"never,omitempty"`
	Decides      string             `json:"decides"`
	Chance       float64            `json:"chance"` // that all parts are there
	ChanceOfEach map[string]float64 `json:"chance_of_each"`
	Assumption   string             `json:"assumption"`
}

// Promise gives the first day on which all parts are there with the wanted
// certainty. Decides is the part whose step up to its chance on that day came
// last; of several on one day the least likely, then the first in the list.
// Bad dates, chances out of range or falling, equal ids and a job without parts
// give a *contract.Error.
//
// Source: the product rule for independent events; nothing else is assumed.
func Promise(_ context.Context, in In) (Out, error) {
	certainty, err := check(in)
	if err != nil {
		return Out{}, err
	}
	curves := make([][]Point, len(in.Parts))
	var days []string
	for i, p := range in.Parts {
		curves[i] = append([]Point(nil), p.Curve...)
		sort.Slice(curves[i], func(a, b int) bool { return curves[i][a].On < curves[i][b].On })
		for _, pt := range p.Curve {
			days = append(days, pt.On)
		}
	}
	sort.Strings(days)
	k := sort.Search(len(days), func(k int) bool {
		return chanceOfAll(curves, days[k]) >= certainty-chanceTol
	})
	out := Out{Assumption: Independence, ChanceOfEach: map[string]float64{}}
	day := ""
	switch {
	case k < len(days):
		day, out.On = days[k], days[k]
	default:
		out.Never = true
		if len(days) > 0 {
			day = days[len(days)-1]
		}
	}
	out.Chance = chanceOfAll(curves, day)
	for i, p := range in.Parts {
		out.ChanceOfEach[p.ID], _ = at(curves[i], day)
	}
	out.Decides = in.Parts[deciding(curves, day, out.Never)].ID
	return out, nil
}

// at gives a curve's chance on a day, and the day on which it rose to that.
func at(curve []Point, day string) (float64, string) {
	k := sort.Search(len(curve), func(k int) bool { return curve[k].On > day }) - 1
	if k < 0 {
		return 0, ""
	}
	for k > 0 && curve[k-1].Chance == curve[k].Chance {
		k--
	}
	return curve[k].Chance, curve[k].On
}

func chanceOfAll(curves [][]Point, day string) float64 {
	p := 1.0
	for _, c := range curves {
		each, _ := at(c, day)
		p *= each
	}
	return p
}

// deciding gives the index of the part that rose last, or with never the least
// likely one.
func deciding(curves [][]Point, day string, never bool) int {
	best := 0
	bestChance, bestRose := at(curves[0], day)
	for i := 1; i < len(curves); i++ {
		chance, rose := at(curves[i], day)
		later := rose > bestRose || rose == bestRose && chance < bestChance
		if never {
			later = chance < bestChance
		}
		if later {
			best, bestChance, bestRose = i, chance, rose
		}
	}
	return best
}

// check gives the certainty as a fraction, or what is wrong with the input.
func check(in In) (float64, error) {
	var c contract.Checks
	switch {
	case len(in.Parts) == 0:
		return 0, contract.Bad("/parts", "a promise needs at least one part")
	case len(in.Parts) > MaxParts:
		return 0, contract.Bad("/parts", "at most %d parts at a time", MaxParts)
	}
	seen := map[string]bool{}
	for i, p := range in.Parts {
		at := fmt.Sprintf("/parts/%d", i)
		switch {
		case p.ID == "":
			c.Add(at+"/id", "every part needs an id")
		case seen[p.ID]:
			c.Add(at+"/id", "%q stands twice in the list", p.ID)
		}
		seen[p.ID] = true
		if len(p.Curve) > MaxPoints {
			return 0, contract.Bad(at+"/curve", "at most %d points", MaxPoints)
		}
		checkCurve(&c, at+"/curve", p.Curve)
	}
	pct := float64(defaultCertaintyPct)
	if in.CertaintyPct != nil {
		pct = *in.CertaintyPct
	}
	if c.Number("/certainty_pct", pct, 0, 100) && pct == 0 {
		c.Add("/certainty_pct", "must be above 0")
	}
	return pct / 100, c.Err()
}

func checkCurve(c *contract.Checks, at string, curve []Point) {
	order := make([]int, len(curve))
	for k, pt := range curve {
		order[k] = k
		if _, err := time.Parse(time.DateOnly, pt.On); err != nil {
			c.Add(fmt.Sprintf("%s/%d/on", at, k), "must be a date such as 2026-09-30")
		}
		c.Number(fmt.Sprintf("%s/%d/chance", at, k), pt.Chance, 0, 1)
	}
	sort.SliceStable(order, func(a, b int) bool { return curve[order[a]].On < curve[order[b]].On })
	for k := 1; k < len(order); k++ {
		before, now := curve[order[k-1]], curve[order[k]]
		switch {
		case before.On == now.On:
			c.Add(fmt.Sprintf("%s/%d/on", at, order[k]), "%s stands twice in the curve", now.On)
		case now.Chance < before.Chance-fallTol:
			c.Add(fmt.Sprintf("%s/%d/chance", at, order[k]), "the chance of being there by a day cannot fall later")
		}
	}
}

// Topics lists the calculations of this room.
func Topics() []contract.Topic {
	return []contract.Topic{contract.New("promise",
		"certainties of timber, bench and bees joined into one date",
		`{"parts": [{"id": "timber", "curve": [{"on": "2026-09-01", "chance": 0.6}, {"on": "2026-09-20", "chance": 0.95}]},
  {"id": "bench", "curve": [{"on": "2026-09-10", "chance": 0.9}, {"on": "2026-09-24", "chance": 0.99}]}],
 "certainty_pct": 80}`, Promise)}
}
