package workshop

// taught is what finished builds of a model tell of its operations, newest first: how long
// one took beside its standard where its time was measured, and sums of several where only
// whole days are known.
type taught struct {
	measured map[string][]sample // by operation
	sums     []wholeDays
	known    map[string]float64 // real on standard minutes of what was measured often enough
}

// sample is what an operation of a build took for each piece, and its standard of today,
// both minutes.
type sample struct{ real, standard float64 }

// wholeDays is what operations of a build took together, set-up off, and the standard of each
// for all pieces; minutes.
type wholeDays struct {
	real     float64
	standard map[string]float64
}

func newTaught(f figures, builds [][]spentOp) taught {
	t := taught{measured: map[string][]sample{}, known: map[string]float64{}}
	for _, b := range builds {
		s := wholeDays{standard: map[string]float64{}}
		for _, o := range b {
			setup, piece := f.now(o.RevisionID, o.Name, o.SetupMin, o.PieceMin)
			switch real := o.Minutes - setup; {
			case o.Split > 0:
				s.real += real
				s.standard[o.Name] += piece * float64(o.Quantity)
			case o.Minutes > 0 && len(t.measured[o.Name]) < teachMost:
				t.measured[o.Name] = append(t.measured[o.Name], sample{max(0, real) / float64(o.Quantity), piece})
			}
		}
		if len(s.standard) > 0 {
			t.sums = append(t.sums, s)
		}
	}
	for name, list := range t.measured {
		if ratios := ratiosOf(list); len(ratios) >= teachLeast {
			_, t.known[name] = RobustMinutes(ratios, 1)
		}
	}
	return t
}

// ratiosOf gives real on standard minutes where there is a standard.
func ratiosOf(list []sample) []float64 {
	var out []float64
	for _, s := range list {
		if s.standard > 0 {
			out = append(out, s.real/s.standard)
		}
	}
	return out
}

// left gives how far the operations of whole days that were not measured often enough go beyond
// their standard, all alike: what is left of the whole once the known ones are taken off.
// It says nothing of one of them beside another.
func (s wholeDays) left(known map[string]float64) (float64, bool) {
	real, standard := s.real, 0.0
	for name, minutes := range s.standard {
		if ratio, ok := known[name]; ok {
			real -= ratio * minutes
		} else {
			standard += minutes
		}
	}
	if standard <= 0 {
		return 0, false
	}
	return max(0, real) / standard, true
}

// rate is what an operation takes: minutes a piece.
type rate struct {
	median, better float64
	builds, days   int // measured ones, and those of which whole days are known
}

// rate gives what was taught of an operation whose standard is piece minutes. Measured
// builds count before sums, which only move what they are drawn towards.
func (t taught) rate(name string, piece float64) (rate, bool) {
	list := t.measured[name]
	if piece <= 0 || len(ratiosOf(list)) < len(list) { // no standard to compare with: minutes as they are
		var real []float64
		for _, s := range list {
			real = append(real, s.real)
		}
		out := rate{builds: len(real)}
		out.median, out.better = RobustMinutes(real, piece)
		return out, len(real) > 0
	}
	var sums []float64
	if _, known := t.known[name]; !known {
		for _, s := range t.sums {
			if ratio, ok := s.left(t.known); ok && s.standard[name] > 0 && len(sums) < teachMost {
				sums = append(sums, ratio)
			}
		}
	}
	middle, towards := RobustMinutes(sums, 1)
	out := rate{builds: len(list), days: len(sums)}
	if len(list) == 0 {
		out.median, out.better = middle*piece, towards*piece
		return out, len(sums) > 0
	}
	ratios := ratiosOf(list)
	out.median, out.better = RobustMinutes(ratios, towards)
	out.median, out.better = out.median*piece, out.better*piece
	return out, true
}
