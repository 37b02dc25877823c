package drying

import (
	"cmp"
	"math"
	"slices"
)

const (
	evenOdds   = 0.5
	fourInFive = 0.8
	sureEnough = 0.995 // where the curve may end
	afterDays  = 14    // drawn beyond that
	neverDays  = 730   // drawn where it is never dry
	mostPoints = 400
)

// answer reads the dates off the chances and draws the curve.
func (p *pack) answer(k knowledge, chance []float64) DryingOut {
	out := DryingOut{Pace: math.Exp(k.meanPace()), DriestEMCPct: p.air.driest(p.asOf)}
	even, evenOK := firstDay(chance, evenOdds)
	sure, sureOK := firstDay(chance, fourInFive)
	out.Never = !evenOK
	if evenOK {
		on := p.on(max(even, p.asOf))
		out.ReadyOn = &on
	}
	if sureOK {
		on := p.on(max(sure, p.asOf))
		out.ReadyOnP80 = &on
	}
	end := p.asOf + neverDays
	if day, ok := firstDay(chance, sureEnough); ok {
		end = max(day, p.asOf) + afterDays
	} else if evenOK {
		end = max(even, sure, p.asOf) + neverDays/2
	}
	end = min(end, len(chance)-1)
	keep := map[int]bool{0: true, end: true, p.asOf: true}
	if evenOK {
		keep[max(even, p.asOf)] = true
	}
	if sureOK {
		keep[max(sure, p.asOf)] = true
	}
	out.Curve = p.curve(k, chance, end, keep)
	return out
}

func firstDay(chance []float64, odds float64) (int, bool) {
	for day, c := range chance {
		if c >= odds {
			return day, true
		}
	}
	return 0, false
}

func (k knowledge) meanPace() float64 {
	mean := 0.0
	for i, row := range k.weight {
		for _, w := range row {
			mean += w * k.pace.value[i]
		}
	}
	return mean
}

func (k knowledge) meanOffset() float64 {
	mean := 0.0
	for _, row := range k.weight {
		for j, w := range row {
			mean += w * k.offset.value[j]
		}
	}
	return mean
}

// curve draws the mean case. Up to the last reading it is bent so as to meet that
// reading, from which it then sets out.
func (p *pack) curve(k knowledge, chance []float64, end int, keep map[int]bool) []Point {
	l := law{p.air.shares(p.rate*math.Exp(k.meanPace()), end+1), k.meanOffset(), k.boost, k.start}
	mc := make([]float64, end+1)
	mc[0] = k.start
	p.run(l, mc, 0)
	if last := p.last(); len(p.readings) > 0 {
		read := p.readings[len(p.readings)-1].mc
		miss := read - mc[last]
		for d := range last {
			mc[d] = max(0, mc[d]+miss*float64(d)/float64(last))
		}
		mc[last] = read
		p.run(l, mc, last)
	}
	step := max(1, (end+mostPoints-1)/mostPoints)
	points, days := []Point{}, []int{}
	for day := 0; day <= end; day++ {
		if day%step == 0 || keep[day] {
			points = append(points, Point{On: p.on(day), MCPct: mc[day], EMCPct: p.air.emc[day], Chance: chance[day], LowPct: mc[day], HighPct: mc[day]})
			days = append(days, day)
		}
	}
	p.band(k, points, days)
	return points
}

// bandOdds is what lies outside the band on each side.
const bandOdds = 0.1

// band sets, from the last reading on, between which moistures eight in ten cases lie.
// The mean case may leave them by a little; it then bounds them.
func (p *pack) band(k knowledge, points []Point, days []int) {
	future := normal(0, math.Hypot(spreadPace, spreadDrift), futurePoints)
	weights := k.drift(future)
	end := days[len(days)-1]
	at := make([][]weighed, len(points))
	for i, logPace := range future.value {
		shares := p.air.shares(p.rate*math.Exp(logPace), end+1)
		for j, offset := range k.offset.value {
			l, mc, next := law{shares, offset, k.boost, k.start}, p.setsOut(k), 0
			for day := p.last(); day <= end; day++ {
				for days[next] < day {
					next++
				}
				if days[next] == day {
					at[next] = append(at[next], weighed{mc, weights[i][j]})
				}
				mc = p.step(l, day, mc)
			}
		}
	}
	for i, cases := range at {
		if days[i] > p.last() {
			points[i].LowPct = min(points[i].MCPct, quantile(cases, bandOdds))
			points[i].HighPct = max(points[i].MCPct, quantile(cases, 1-bandOdds))
		}
	}
}

// setsOut gives the moisture from which the forecast goes on.
func (p *pack) setsOut(k knowledge) float64 {
	if n := len(p.readings); n > 0 {
		return p.readings[n-1].mc
	}
	return k.start
}

// weighed is a moisture and how likely it is.
type weighed struct{ mc, weight float64 }

// quantile gives the moisture below which that share of the weight lies; it sorts cases.
func quantile(cases []weighed, share float64) float64 {
	slices.SortFunc(cases, func(a, b weighed) int { return cmp.Compare(a.mc, b.mc) })
	total := 0.0
	for _, c := range cases {
		total += c.weight
	}
	sum := 0.0
	for _, c := range cases {
		if sum += c.weight; sum >= share*total {
			return c.mc
		}
	}
	return cases[len(cases)-1].mc
}

// run fills mc from the day after from on.
func (p *pack) run(l law, mc []float64, from int) {
	for day := from + 1; day < len(mc); day++ {
		mc[day] = p.step(l, day-1, mc[day-1])
	}
}
