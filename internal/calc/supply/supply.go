package supply

import (
	"context"
	"fmt"
	"sort"
	"time"

	"kerfbook/internal/calc/contract"
)

const (
	// MaxColonies is the longest list that is taken; a year of the largest
	// keepers is far below it.
	MaxColonies = 5000
	// defaultCertaintyPct is four in five, the certainty a date is offered with.
	defaultCertaintyPct = 80
	// chanceTol lets a chance that equals the certainty on paper count as reached
	// although the sum of products differs in the last binary digits.
	chanceTol = 1e-12
)

// Colony is one that may come to be ready to hand over.
type Colony struct {
	ID      string  `json:"id" need:"yes"`
	ReadyOn string  `json:"ready_on" need:"yes"` // date, YYYY-MM-DD
	Chance  float64 `json:"chance" need:"yes"`   // of being ready from that day on, 0 to 1
}

// In is the input of Supply.
type In struct {
	Colonies              []Colony `json:"colonies" need:"yes"`
	PlaceInLine           int      `json:"place_in_line" need:"yes"` // 1 is next
	CertaintyPct          *float64 `json:"certainty_pct,omitempty"`  // above 0, to 100; default 80
	SharedBadSeasonChance float64  `json:"shared_bad_season_chance,omitempty"`
	BadSeasonFactor       float64  `json:"bad_season_factor,omitempty"` // 0 to 1
}

// Point is the chance that at least place_in_line colonies are ready by a day.
type Point struct {
	On     string  `json:"on"`
	Chance float64 `json:"chance"`
}

// Out is the answer: either ReadyOn or Never, and the whole curve.
type Out struct {
	ReadyOn string  `json:"ready_on,omitempty"`
	Never   bool    `json:"never,omitempty"`
	Curve   []Point `json:"curve"`
}

// Supply gives the first day on which at least PlaceInLine colonies are ready
// with the wanted certainty, and the chance of that on every day of the list.
//
// Chances are taken as independent within a season; the season itself is shared.
// Input out of range, equal ids and dates that are none give a *contract.Error.
// The cost is colonies times place in line.
//
// Source: Poisson-binomial distribution by the direct convolution, Y. H. Wang,
// On the number of successes in independent trials, Statistica Sinica 3 (1993)
// 295-312 (from memory); checked in the tests against enumeration and the
// closed binomial form.
func Supply(_ context.Context, in In) (Out, error) {
	certainty, err := check(in)
	if err != nil {
		return Out{}, err
	}
	byDay := append([]Colony(nil), in.Colonies...)
	sort.SliceStable(byDay, func(i, j int) bool { return byDay[i].ReadyOn < byDay[j].ReadyOn })

	good, bad := newTally(in.PlaceInLine, len(byDay)), newTally(in.PlaceInLine, len(byDay))
	out := Out{Curve: []Point{}}
	for i, c := range byDay {
		good.add(c.Chance)
		bad.add(c.Chance * in.BadSeasonFactor)
		if i+1 < len(byDay) && byDay[i+1].ReadyOn == c.ReadyOn {
			continue
		}
		q := in.SharedBadSeasonChance
		p := min((1-q)*good.atLeast()+q*bad.atLeast(), 1)
		out.Curve = append(out.Curve, Point{c.ReadyOn, p})
		if out.ReadyOn == "" && p >= certainty-chanceTol {
			out.ReadyOn = c.ReadyOn
		}
	}
	out.Never = out.ReadyOn == ""
	return out, nil
}

// tally is the distribution of how many are ready, cut off at the wanted count:
// n[s] is the chance of exactly s for s < k, n[k] that of k or more.
type tally struct {
	n     []float64
	added int
}

// newTally starts with nobody ready. A count above the number of colonies is
// never reached, so the table need not be longer than that.
func newTally(k, colonies int) *tally {
	t := &tally{n: make([]float64, min(k, colonies+1)+1)}
	t.n[0] = 1
	return t
}

// Counts is the distribution of how many of those with the given chances are ready, cut
// off at most: exactly 0, 1 ... most-1, and in the last place most or more. Chances are
// independent and lie between 0 and 1; most is at least 0. It is the Poisson-binomial that
// Supply reads its curve from; the cost is chances times most.
func Counts(chances []float64, most int) []float64 {
	if most == 0 {
		return []float64{1}
	}
	t := newTally(most, len(chances))
	for _, p := range chances {
		t.add(p)
	}
	return append(t.n, make([]float64, most+1-len(t.n))...)
}

func (t *tally) add(p float64) {
	k := len(t.n) - 1
	t.n[k] += t.n[k-1] * p
	t.added++ // nothing lies above that yet
	for s := min(k-1, t.added); s > 0; s-- {
		t.n[s] = t.n[s]*(1-p) + t.n[s-1]*p
	}
	t.n[0] *= 1 - p
}

func (t *tally) atLeast() float64 { return t.n[len(t.n)-1] }

// check gives the certainty as a fraction, or what is wrong with the input.
func check(in In) (float64, error) {
	var c contract.Checks
	if len(in.Colonies) > MaxColonies {
		return 0, contract.Bad("/colonies", "at most %d colonies at a time", MaxColonies)
	}
	seen := map[string]bool{}
	for i, col := range in.Colonies {
		at := fmt.Sprintf("/colonies/%d", i)
		switch {
		case col.ID == "":
			c.Add(at+"/id", "every colony needs an id")
		case seen[col.ID]:
			c.Add(at+"/id", "%q stands twice in the list", col.ID)
		}
		seen[col.ID] = true
		if _, err := time.Parse(time.DateOnly, col.ReadyOn); err != nil {
			c.Add(at+"/ready_on", "must be a date such as 2026-09-30")
		}
		c.Number(at+"/chance", col.Chance, 0, 1)
	}
	if in.PlaceInLine < 1 {
		c.Add("/place_in_line", "must be 1 (next in the line) or more")
	}
	pct := float64(defaultCertaintyPct)
	if in.CertaintyPct != nil {
		pct = *in.CertaintyPct
	}
	if c.Number("/certainty_pct", pct, 0, 100) && pct == 0 {
		c.Add("/certainty_pct", "must be above 0")
	}
	c.Number("/shared_bad_season_chance", in.SharedBadSeasonChance, 0, 1)
	c.Number("/bad_season_factor", in.BadSeasonFactor, 0, 1)
	return pct / 100, c.Err()
}

// Topics lists the calculations of this room.
func Topics() []contract.Topic {
	return []contract.Topic{contract.New("supply",
		"by when a buyer in the line will have a colony",
		`{"colonies": [{"id": "c31", "ready_on": "2026-10-01", "chance": 0.9},
  {"id": "c32", "ready_on": "2026-11-15", "chance": 0.8},
  {"id": "c33", "ready_on": "2026-11-15", "chance": 0.7}],
 "place_in_line": 2, "certainty_pct": 80,
 "shared_bad_season_chance": 0.1, "bad_season_factor": 0.5}`, Supply)}
}
