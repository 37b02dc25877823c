package answer

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"kerfbook/internal/timber"
)

// millKey is a board size of a timber.
type millKey struct {
	species int64
	size    size
}

// millBook is what the records say about boards, present, coming and asked for. Lengths in mm.
type millBook struct {
	day      time.Time
	months   int
	species  map[int64]timber.Species
	rack     map[millKey]millRack
	packs    []millPack
	yields   map[millKey]millYield // by what packs were meant for
	orders   []millNeed
	builds   []millNeed
	quotes   []millNeed          // each with its whole need
	chance   float64             // that a quote becomes an order
	decided  int                 // quotes that says it
	toShelf  map[millKey]float64 // in builds under way, for nobody yet
	pastFrom time.Time           // first month of past
	past     map[millKey][]float64
	set      map[int64]map[size]millPace // by timber: stands in place of past
	paces    []timber.Pace
	board    map[int64]int // usual length of a board by timber
	dry      dryPlace
	notes    []string
}

type millRack struct{ free, claimed float64 }

// millPack is what is free in a pack.
type millPack struct {
	key            millKey // what it is meant for
	freeMM         float64
	ready, careful *time.Time // nil: no such day
	undecided      bool       // nobody has said what it dresses to
}

// millNeed is boards that somebody needs; on is when, zero: now.
type millNeed struct {
	key millKey
	mm  float64
	on  time.Time
}

// millYield is what packs meant for a size gave: dressed length of each size for each mm stacked.
type millYield struct {
	packs   int
	mean    map[size]float64
	careful map[size]float64 // four in five packs gave as much
}

// millPace is the mean need of a month with its variance.
type millPace struct{ mean, spread2 float64 }

func monthOf(t time.Time) time.Time {
	return time.Date(t.Year(), t.Month(), 1, 0, 0, 0, 0, time.UTC)
}

func monthsBetween(from, to time.Time) int {
	return (to.Year()-from.Year())*12 + int(to.Month()) - int(from.Month())
}

// at gives the place of a day among the months ahead; days past count as now, and false
// is a day beyond them.
func (b *millBook) at(t time.Time) (int, bool) {
	i := 0
	if t.After(b.day) {
		i = monthsBetween(b.day, t)
	}
	return i, i < b.months
}

// reckon makes the months of every size that is needed, drying or on the rack.
func (b *millBook) reckon() MillNext {
	out := MillNext{AsOf: b.day, PastMonths: b.pastMonths(), AcceptedPct: b.chance * 100, QuotesDecided: b.decided, Paces: b.paces, Notes: b.notes, Sizes: []MillSize{}}
	for i := range b.months {
		out.Months = append(out.Months, monthOf(b.day).AddDate(0, i, 0))
	}
	for _, key := range b.keys() {
		out.Sizes = append(out.Sizes, b.sizeOf(key, out.Months))
	}
	if out.PastMonths == 0 && len(b.set) == 0 {
		out.Notes = append(out.Notes, "The book knows no order of a past month, so no pace of orders to come is reckoned. Say below how many boxes a month you expect to sell.")
	} else if out.PastMonths > 0 && out.PastMonths < 6 {
		out.Notes = append(out.Notes, fmt.Sprintf("The pace is learnt from %d months only; it says little of the seasons yet.", out.PastMonths))
	}
	return out
}

func (b *millBook) pastMonths() int {
	if b.pastFrom.IsZero() {
		return 0
	}
	return max(0, monthsBetween(b.pastFrom, b.day))
}

// keys are all sizes that matter, in a fixed order.
func (b *millBook) keys() []millKey {
	seen := map[millKey]bool{}
	for k := range b.rack {
		seen[k] = true
	}
	for _, p := range b.packs {
		seen[p.key] = true
	}
	for _, list := range [][]millNeed{b.orders, b.builds, b.quotes} {
		for _, n := range list {
			seen[n.key] = true
		}
	}
	for k := range b.past {
		if b.set[k.species] == nil {
			seen[k] = true
		}
	}
	for id, sizes := range b.set {
		for z := range sizes {
			seen[millKey{id, z}] = true
		}
	}
	keys := make([]millKey, 0, len(seen))
	for k := range seen {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, c millKey) int {
		return cmp.Or(cmp.Compare(a.species, c.species), cmp.Compare(c.size.width, a.size.width), cmp.Compare(c.size.thickness, a.size.thickness))
	})
	return keys
}

func (b *millBook) sizeOf(key millKey, months []time.Time) MillSize {
	rack := b.rack[key]
	s := MillSize{key: key, SpeciesID: key.species, Species: b.species[key.species].Name, WidthMM: key.size.width, ThicknessMM: key.size.thickness, FreeMM: rack.free, ClaimedMM: rack.claimed, Months: make([]MillMonth, len(months))}
	for i, m := range months {
		s.Months[i].On = m
	}
	y := b.yieldOf(key)
	s.YieldPct, s.YieldPacks = y.mean[key.size]*100, y.packs
	b.comeIn(&s)
	b.goOut(&s)
	b.pace(&s)
	left, in, spread2 := rack.free, 0.0, 0.0
	need := 0.0
	for i := range s.Months {
		m := &s.Months[i]
		need += m.NeedMM()
		spread2 += m.spread2
		left += m.InMM - m.NeedMM()
		in += m.CarefulInMM
		careful := rack.free + in - need - fourInFive*math.Sqrt(spread2)
		m.LeftMM, m.CarefulLeftMM = left, careful
	}
	s.Expected = b.short(&s, func(m MillMonth) float64 { return m.LeftMM })
	s.Careful = b.short(&s, func(m MillMonth) float64 { return m.CarefulLeftMM })
	return s
}

// yieldOf is what a pack meant for key gives.
func (b *millBook) yieldOf(key millKey) millYield {
	if y, ok := b.yields[key]; ok && y.mean[key.size] > 0 {
		return y
	}
	return millYield{mean: map[size]float64{key.size: usualYield}, careful: map[size]float64{key.size: usualYield * cautiousYield}}
}

// comeIn puts the packs into the months; a pack may give several sizes.
func (b *millBook) comeIn(s *MillSize) {
	for _, p := range b.packs {
		if p.key.species != s.SpeciesID {
			continue
		}
		if p.key == s.key && p.ready == nil {
			s.UndatedMM += p.freeMM
		}
		y := b.yieldOf(p.key)
		if p.ready == nil || y.mean[s.key.size] == 0 {
			continue
		}
		if p.key == s.key {
			s.DryingMM += p.freeMM
		}
		if i, ok := b.at(laterDay(*p.ready, b.day).AddDate(0, 0, dressDays)); ok {
			s.Months[i].InMM += p.freeMM * y.mean[s.key.size]
		}
		if p.careful == nil {
			continue
		}
		if i, ok := b.at(laterDay(*p.careful, b.day).AddDate(0, 0, dressDays)); ok {
			s.Months[i].CarefulInMM += p.freeMM * y.careful[s.key.size]
		}
	}
}

// goOut puts orders, builds and quotes into the months.
func (b *millBook) goOut(s *MillSize) {
	each := func(list []millNeed, put func(m *MillMonth, mm float64)) {
		for _, n := range list {
			if i, ok := b.at(n.on); ok && n.key == s.key {
				put(&s.Months[i], n.mm)
			}
		}
	}
	each(b.orders, func(m *MillMonth, mm float64) { m.OrdersMM += mm })
	each(b.builds, func(m *MillMonth, mm float64) { m.BuildsMM += mm })
	each(b.quotes, func(m *MillMonth, mm float64) {
		m.QuotesMM += b.chance * mm
		m.spread2 += b.chance * (1 - b.chance) * mm * mm
	})
}

// pace puts the orders to come into the months: of the running one, what is left of it.
func (b *millBook) pace(s *MillSize) {
	toShelf := b.toShelf[s.key]
	days := monthOf(b.day).AddDate(0, 1, 0).Sub(monthOf(b.day)).Hours() / 24
	share := (days - float64(b.day.Day()) + 1) / days
	for i := range s.Months {
		m := &s.Months[i]
		p := b.paceOf(s.key, m.On.Month())
		mm := max(0, share*p.mean-m.QuotesMM)
		answered := min(mm, toShelf)
		toShelf -= answered
		m.PaceMM = mm - answered
		m.spread2 += share * p.spread2
		share = 1
	}
}

// paceOf is what new orders of a month of the year are expected to need: what the maker
// set for this timber, else the mean of that month in the past together with
// seasonWeight months at the overall mean; no past, no pace. The spread is that of the
// past months around those means, at least that of whole months around one mean.
func (b *millBook) paceOf(key millKey, month time.Month) millPace {
	if set, ok := b.set[key.species]; ok {
		return set[key.size]
	}
	past, n := b.past[key], b.pastMonths()
	if len(past) == 0 || n == 0 {
		return millPace{}
	}
	total := 0.0
	for _, v := range past[:n] {
		total += v
	}
	mean := total / float64(n)
	seasonal := func(month time.Month) float64 {
		sum, k := seasonWeight*mean, float64(seasonWeight)
		for i, v := range past[:n] {
			if b.pastFrom.AddDate(0, i, 0).Month() == month {
				sum, k = sum+v, k+1
			}
		}
		return sum / k
	}
	var by [13]float64
	for m := time.January; m <= time.December; m++ {
		by[m] = seasonal(m)
	}
	spread2 := 0.0
	for i, v := range past[:n] {
		off := v - by[b.pastFrom.AddDate(0, i, 0).Month()]
		spread2 += off * off
	}
	return millPace{by[month], spread2 / float64(n)}
}

// short finds the first month at whose end less than nothing is left, and how much to
// saw so that it lasts coverMonths; nil when it lasts.
func (b *millBook) short(s *MillSize, left func(MillMonth) float64) *MillShort {
	at := slices.IndexFunc(s.Months, func(m MillMonth) bool { return left(m) < -1 }) // a mm is no shortage
	if at < 0 {
		return nil
	}
	last := min(at+coverMonths, len(s.Months)) - 1
	missing := 0.0
	for _, m := range s.Months[at : last+1] {
		missing = max(missing, -left(m))
	}
	length := b.board[s.SpeciesID]
	if length <= 0 {
		length = usualBoardMM
	}
	saw := missing / (s.YieldPct / 100)
	boards := int(math.Ceil(saw/float64(length) - 1e-9))
	return &MillShort{On: s.Months[at].On, Until: s.Months[last].On, ShortMM: missing, SawMM: saw, Boards: boards, BoardMM: length}
}
