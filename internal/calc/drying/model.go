package drying

import "math"

// The model's own figures; their sources stand at the head of the package.
const (
	tauDays        = 34.0
	tauThicknessMM = 25.0
	tauGravity     = 0.5
	thicknessPower = 1.5
	gravityPower   = 1.0
	perDegree      = 0.05
	usualStartPct  = 70.0 // our estimate: between heartwood and sapwood
)

// What is not known, as standard deviations: our estimate, checked in calibration_test.go.
const (
	spreadPace      = 0.43 // of the logarithm of a pack's pace
	spreadDrift     = 0.24 // of the same, from the last reading on: weather and the law
	spreadOffset    = 1.0  // of a site's equilibrium, % moisture
	spreadGuess     = 0.33 // of a green moisture that was not measured, as a share
	spreadMeasured  = 0.06 // of one that was
	usualBoost      = 2.0  // b, how much faster a board dries at first
	spreadBoost     = 0.8  // of the same, cut off at 0
	meterPct        = 1.0  // of a reading, % moisture
	meterShare      = 0.05 // of a reading, added to it as a share
	lawShare        = 0.10 // of the model against a perfect reading, as a share
	halfWeightDays  = 45.0 // a reading that much older than the last counts half
	greenMeterPct   = 30.0 // above fibre saturation meters are rough:
	greenMeterShare = 0.20 // a share of the reading
)

// Grid sizes: points over a spread. Finer ones change no date by more than a day or two.
const (
	pacePoints   = 31
	futurePoints = 61
	fewPoints    = 5
	boostPoints  = 3
	reach        = 2.6 // standard deviations to each side
)

// cases are equally spaced values with weights that add up to one.
type cases struct{ value, weight []float64 }

func normal(mean, spread float64, n int) cases {
	c := cases{make([]float64, n), make([]float64, n)}
	total := 0.0
	for i := range n {
		z := reach * (2*float64(i)/float64(n-1) - 1)
		c.value[i], c.weight[i] = mean+z*spread, math.Exp(-z*z/2)
		total += c.weight[i]
	}
	for i := range c.weight {
		c.weight[i] /= total
	}
	return c
}

// starts gives the green moistures that are thought possible.
func (p *pack) starts() cases {
	if p.measured {
		return normal(p.start, spreadMeasured*p.start, fewPoints)
	}
	c := normal(math.Log(p.start), spreadGuess, fewPoints)
	for i, v := range c.value {
		c.value[i] = math.Exp(v)
	}
	return c
}

// knowledge is what the readings leave: weights over paces and offsets, and means
// of what matters less once the first weeks are over.
type knowledge struct {
	pace, offset cases
	weight       [][]float64 // [pace][offset]
	start, boost float64
}

// law is one case of the model.
type law struct {
	shares []float64 // of the distance to the equilibrium, for each day
	offset float64
	boost  float64
	start  float64
}

// step gives the moisture content a day later.
func (p *pack) step(l law, day int, mc float64) float64 {
	distance := mc - p.air.emc[day] - l.offset
	mean := p.air.mean[day]
	wet := min(1, max(0, (mc-mean)/max(l.start-mean, 1)))
	wet *= wet
	return mc - min(1, l.shares[day]*(1+l.boost*wet*wet))*distance
}

// weigh runs every case up to the last reading and weighs it by how well it meets
// the readings, the late ones more.
func (p *pack) weigh() knowledge {
	k := knowledge{pace: normal(0, spreadPace, pacePoints), offset: normal(0, spreadOffset, fewPoints)}
	boosts, starts := normal(usualBoost, spreadBoost, boostPoints), p.starts()
	type cell struct {
		pace, offset int
		fit, prior   float64
		start, boost float64
	}
	var all []cell
	best := math.Inf(-1)
	for i, logPace := range k.pace.value {
		shares := p.air.shares(p.rate*math.Exp(logPace), p.last()+1)
		for j, offset := range k.offset.value {
			for b, boost := range boosts.value {
				for s, start := range starts.value {
					l := law{shares, offset, max(0, boost), start}
					prior := k.pace.weight[i] * k.offset.weight[j] * boosts.weight[b] * starts.weight[s]
					all = append(all, cell{i, j, p.fit(l), prior, start, l.boost})
					best = max(best, all[len(all)-1].fit)
				}
			}
		}
	}
	k.weight = make([][]float64, pacePoints)
	for i := range k.weight {
		k.weight[i] = make([]float64, fewPoints)
	}
	total := 0.0
	for _, c := range all {
		total += c.prior * math.Exp(c.fit-best)
	}
	for _, c := range all {
		w := c.prior * math.Exp(c.fit-best) / total
		k.weight[c.pace][c.offset] += w
		k.start += w * c.start
		k.boost += w * c.boost
	}
	return k
}

// fit gives the logarithm of how likely the readings are in one case.
func (p *pack) fit(l law) float64 {
	mc, next, total := l.start, 0, 0.0
	for day := 0; next < len(p.readings); day++ {
		if r := p.readings[next]; r.day == day {
			spread := math.Hypot(r.spread(), lawShare*mc)
			z := (r.mc - mc) / spread
			total -= (z*z/2 + math.Log(spread)) * math.Exp2(-float64(p.last()-day)/halfWeightDays)
			next++
		}
		mc = p.step(l, day, mc)
	}
	return total
}

// spread gives the standard deviation of a day's mean reading.
func (r reading) spread() float64 { return meterSpread(r.mc) / math.Sqrt(float64(r.boards)) }

// meterSpread gives the standard deviation of one reading.
func meterSpread(mc float64) float64 {
	if mc > greenMeterPct {
		return greenMeterShare * mc
	}
	return meterPct + meterShare*mc
}

// forecast gives, for each day since stacking, the chance that the target has been
// reached by then, counted from the last reading on.
func (p *pack) forecast(k knowledge) []float64 {
	from := p.starts()
	if n := len(p.readings); n > 0 {
		r := p.readings[n-1]
		from = normal(r.mc, r.spread(), fewPoints)
	}
	future := normal(0, math.Hypot(spreadPace, spreadDrift), futurePoints)
	weights := k.drift(future)
	chance := make([]float64, len(p.air.emc))
	driest := p.air.driest(p.last())
	for i, logPace := range future.value {
		shares := p.air.shares(p.rate*math.Exp(logPace), len(p.air.speed))
		for j, offset := range k.offset.value {
			for s, mc := range from.value {
				if mc > p.target && driest+offset >= p.target {
					continue // not in any weather
				}
				l := law{shares, offset, k.boost, k.start}
				if len(p.readings) == 0 {
					l.start = mc
				}
				if day, ok := p.reached(l, mc); ok {
					chance[day] += weights[i][j] * from.weight[s]
				}
			}
		}
	}
	for day := 1; day < len(chance); day++ {
		chance[day] = min(1, chance[day]+chance[day-1])
	}
	return chance
}

// drift spreads the weights of past paces over those of the time to come.
func (k knowledge) drift(future cases) [][]float64 {
	weights := make([][]float64, len(future.value))
	for f := range weights {
		weights[f] = make([]float64, fewPoints)
	}
	for i, past := range k.pace.value {
		share, total := make([]float64, len(future.value)), 0.0
		for f, v := range future.value {
			z := (v - past) / spreadDrift
			share[f] = math.Exp(-z * z / 2)
			total += share[f]
		}
		for f := range share {
			for j, w := range k.weight[i] {
				weights[f][j] += w * share[f] / total
			}
		}
	}
	return weights
}

// reached gives the first day, from the last reading on, at which mc is down to the target.
func (p *pack) reached(l law, mc float64) (int, bool) {
	for day := p.last(); day < len(l.shares); day++ {
		if mc <= p.target {
			return day, true
		}
		mc = p.step(l, day, mc)
	}
	return 0, false
}
