package survival

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"kerfbook/internal/calc/contract"
)

const (
	// MaxLives is the longest list that is taken.
	MaxLives = 100_000
	// MaxDays is the longest life, a century.
	MaxDays = 36_525
	// MaxAt is how many days may be asked for.
	MaxAt = 1000
	// defaultCertaintyPct is the usual width of an interval.
	defaultCertaintyPct = 95
)

// Life is what is known of one colony.
type Life struct {
	Days float64 `json:"days" need:"yes"` // to the loss, or to when it was seen alive last; 0 to 36525
	Lost bool    `json:"lost,omitempty"`
}

// In is the input of Survival.
type In struct {
	Lives        []Life    `json:"lives" need:"yes"`
	CertaintyPct *float64  `json:"certainty_pct,omitempty"` // of the interval, above 0 and below 100; default 95
	AtDays       []float64 `json:"at_days,omitempty"`       // days to be answered for, besides the steps
}

// Point is how many live after so many days.
type Point struct {
	Days   float64 `json:"days"`
	AtRisk int     `json:"at_risk"` // seen alive until just before; on a day that is asked for: until that day
	Lost   int     `json:"lost"`    // on that day; on a day that is asked for: until it
	Alive  float64 `json:"alive"`   // share, 0 to 1
	Error  float64 `json:"standard_error"`
	Low    float64 `json:"low"` // share that at least live, by the certainty
	High   float64 `json:"high"`
	Seen   bool    `json:"seen"` // whether any colony was seen so long, or all were lost; beyond it the share is that of the last loss
}

// Out is the answer.
type Out struct {
	Lives int     `json:"lives"`
	Lost  int     `json:"lost"`
	Steps []Point `json:"steps"` // a point on each day with a loss
	At    []Point `json:"at"`    // a point for each of at_days
}

// Survival gives the share of colonies that live after so many days, with an interval.
//
//	S(t) = prod over t_i <= t of (1 - d_i / n_i)
//
// The interval is that of log(-log S) with Greenwood's variance, which stays between 0 and
// 1; while nothing, or everything, was lost it is the exact binomial one of the n at risk.
// Lives that were seen until the very day of a loss count as at risk on it. Days lie
// between 0 and 36525; no lives give a share of 1 that was not seen, between 0 and 1.
// Errors: *contract.Error. The cost is that of sorting.
//
// Source: E. L. Kaplan and P. Meier, Nonparametric estimation from incomplete observations,
// J. Am. Stat. Assoc. 53 (1958) 457-481; the interval, J. D. Kalbfleisch and R. L. Prentice,
// The Statistical Analysis of Failure Time Data (1980), section 1.3 (both from memory).
func Survival(_ context.Context, in In) (Out, error) {
	z, tail, err := in.check()
	if err != nil {
		return Out{}, err
	}
	lives := slices.Clone(in.Lives)
	slices.SortFunc(lives, func(a, b Life) int { return cmp.Compare(a.Days, b.Days) })
	out := Out{Lives: len(lives), Steps: []Point{}, At: []Point{}}
	alive, variance := 1.0, 0.0
	for i := 0; i < len(lives); {
		n, d, j := len(lives)-i, 0, i
		for ; j < len(lives) && lives[j].Days == lives[i].Days; j++ {
			if lives[j].Lost {
				d++
			}
		}
		if d > 0 {
			alive *= 1 - float64(d)/float64(n)
			variance += float64(d) / (float64(n) * float64(n-d))
			p := Point{Days: lives[i].Days, AtRisk: n, Lost: d, Alive: alive, Seen: true}
			p.bounds(variance, z, tail)
			out.Steps = append(out.Steps, p)
			out.Lost += d
		}
		i = j
	}
	for _, t := range in.AtDays {
		out.At = append(out.At, out.at(t, lives, tail))
	}
	return out, nil
}

// at reads the curve on a day.
func (out Out) at(t float64, lives []Life, tail float64) Point {
	p := Point{Days: t, Alive: 1}
	for _, l := range lives {
		switch {
		case l.Lost && l.Days <= t:
			p.Lost++
		case l.Days >= t:
			p.AtRisk++
		}
	}
	for _, s := range out.Steps {
		if s.Days <= t {
			p.Alive, p.Error, p.Low, p.High = s.Alive, s.Error, s.Low, s.High
		}
	}
	if p.Lost == 0 {
		p.exact(tail)
	}
	p.Seen = p.AtRisk > 0 || p.Alive == 0
	return p
}

// bounds fills in the interval of a step.
func (p *Point) bounds(variance, z, tail float64) {
	if p.Alive <= 0 {
		p.Alive = 0
		p.exact(tail)
		return
	}
	p.Error = p.Alive * math.Sqrt(variance)
	l := math.Log(p.Alive)
	w := z * math.Sqrt(variance) / l // of log(-log S); l is negative
	p.Low, p.High = math.Exp(l*math.Exp(-w)), math.Exp(l*math.Exp(w))
	p.Low, p.High = min(p.Low, p.High), max(p.Low, p.High)
}

// exact is the interval of Clopper and Pearson (1934) when none or all of the n at risk
// were lost.
func (p *Point) exact(tail float64) {
	p.Error = 0
	if p.AtRisk == 0 {
		p.Low, p.High = 0, 1
		return
	}
	edge := math.Pow(tail, 1/float64(p.AtRisk))
	if p.Alive == 0 {
		p.Low, p.High = 0, 1-edge
		return
	}
	p.Low, p.High = edge, 1
}

// check gives the deviate and the tail of the interval.
func (in In) check() (z, tail float64, err error) {
	certainty := float64(defaultCertaintyPct)
	if in.CertaintyPct != nil {
		certainty = *in.CertaintyPct
	}
	if !(certainty > 0 && certainty < 100) {
		return 0, 0, contract.Bad("/certainty_pct", "a certainty lies above 0 and below 100")
	}
	if len(in.Lives) > MaxLives {
		return 0, 0, contract.Bad("/lives", "at most %d lives", MaxLives)
	}
	if len(in.AtDays) > MaxAt {
		return 0, 0, contract.Bad("/at_days", "at most %d days", MaxAt)
	}
	for i, l := range in.Lives {
		if !(l.Days >= 0 && l.Days <= MaxDays) {
			return 0, 0, contract.Bad(fmt.Sprintf("/lives/%d/days", i), "days lie between 0 and %d", MaxDays)
		}
	}
	for i, d := range in.AtDays {
		if !(d >= 0 && d <= MaxDays) {
			return 0, 0, contract.Bad(fmt.Sprintf("/at_days/%d", i), "days lie between 0 and %d", MaxDays)
		}
	}
	tail = (1 - certainty/100) / 2
	return distuv.UnitNormal.Quantile(1 - tail), tail, nil
}
