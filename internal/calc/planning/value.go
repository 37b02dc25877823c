package planning

// value is how good a plan is, smaller is better: first the jobs that found no
// place, then the weighted tardiness (scaled), then the sum of all ends, which
// among equal plans prefers the one that is done early, then the minutes of set-up.
type value struct {
	failed int
	tardy  int64
	ends   int64
	setup  int64
}

func (a value) less(b value) bool {
	if a.failed != b.failed {
		return a.failed < b.failed
	}
	if a.tardy != b.tardy {
		return a.tardy < b.tardy
	}
	if a.ends != b.ends {
		return a.ends < b.ends
	}
	return a.setup < b.setup
}

// late gives the weighted tardiness of job j when it ends at minute end.
func (p *problem) late(j int, end int64) int64 {
	return p.jobs[j].weight * max(0, end-p.jobs[j].due)
}

// value adds up a timetable.
func (t *timetable) value() value {
	var v value
	for j := range t.p.jobs {
		b := &t.p.jobs[j]
		if t.placed[j] < b.hi-b.lo {
			v.failed++
			continue
		}
		end := t.end[b.hi-1]
		v.tardy += t.p.late(j, end)
		v.ends += end
		for s := b.lo; s < b.hi; s++ {
			v.setup += t.setup[s]
		}
	}
	return v
}
