package answer

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"sync"
	"time"

	"github.com/shopspring/decimal"

	"kerfbook/internal/calc/sawing"
	"kerfbook/internal/house"
	"kerfbook/internal/show"
	"kerfbook/internal/timber"
)

// usualTargetPct is the moisture at which boards are dressed where no pack says another;
// common practice, no source.
const usualTargetPct = 12.0

// dryPlace is where boards of the workshop dry.
type dryPlace struct {
	timber   map[int64]dryTimber // as each was stacked last
	climates []timber.Climate
	known    map[dryKey]dryDays
	memo     *dryMemo
}

type dryTimber struct {
	climateID int64
	targetPct float64
	startPct  *float64
}

type dryKey struct {
	species   int64
	thickness float64
	month     time.Time // first day of it, on which the boards are stacked
}

// dryMemo keeps what the drying of a timber in an air came to. Each entry names all that
// it follows from, so that none is ever out of date.
type dryMemo struct {
	mu    sync.Mutex
	dates map[string]timber.DryDates
}

// dryMemoMost is how many answers are kept; then it begins anew.
const dryMemoMost = 8192

func (m *dryMemo) dry(ctx context.Context, q timber.DryQuestion) (timber.DryDates, error) {
	start := -1.0
	if q.StartMCPct != nil {
		start = *q.StartMCPct
	}
	key := fmt.Sprint(q.StackedOn.Unix(), q.ThicknessMM, q.SpeciesCode, q.Gravity, q.GreenMCPct, q.Slowness, start, q.TargetMCPct, q.Months)
	m.mu.Lock()
	out, ok := m.dates[key]
	m.mu.Unlock()
	if ok {
		return out, nil
	}
	out, err := timber.AirDry(ctx, q)
	if err != nil {
		return out, err
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.dates == nil || len(m.dates) >= dryMemoMost {
		m.dates = map[string]timber.DryDates{}
	}
	m.dates[key] = out
	return out, nil
}

type dryDays struct {
	on    time.Time // four in five, else even odds
	never bool
	guess string // why it is a rule of thumb
}

// climateOf gives the weather a timber dries in: where it was stacked last, else the
// first place in the book.
func (d *dryPlace) climateOf(species int64) *timber.Climate {
	for i := range d.climates {
		if d.climates[i].ID == d.timber[species].climateID {
			return &d.climates[i]
		}
	}
	if len(d.climates) > 0 {
		return &d.climates[0]
	}
	return nil
}

// dryBy works out when boards stacked on a day are dry: for the first days of that month
// and of the next by the calculation, and between them in proportion, which keeps within
// a few days of it and answers for all days of a month at once.
func (d *dryPlace) dryBy(ctx context.Context, sp timber.Species, thicknessMM float64, stacked time.Time) (dryDays, error) {
	from := monthOf(stacked)
	next := from.AddDate(0, 1, 0)
	a, err := d.dryOf(ctx, sp, thicknessMM, from)
	if err != nil || stacked.Equal(from) || a.never {
		return a, err
	}
	b, err := d.dryOf(ctx, sp, thicknessMM, next)
	if err != nil || b.never {
		return b, err
	}
	days := func(t time.Duration) float64 { return t.Hours() / 24 }
	share := days(stacked.Sub(from)) / days(next.Sub(from))
	return dryDays{on: a.on.AddDate(0, 0, int(math.Ceil(share*days(b.on.Sub(a.on))))), guess: a.guess}, nil
}

// dryOf works out when boards stacked on the first of a month are dry. Without weather or
// density it is a year for each 25 mm (common practice, no source).
func (d *dryPlace) dryOf(ctx context.Context, sp timber.Species, thicknessMM float64, month time.Time) (dryDays, error) {
	key := dryKey{sp.ID, thicknessMM, month}
	if out, ok := d.known[key]; ok {
		return out, nil
	}
	out := dryDays{on: month.AddDate(0, 0, int(math.Ceil(thumbDaysMM*thicknessMM)))}
	climate := d.climateOf(sp.ID)
	_, gravity, ok := sp.Basis()
	switch {
	case climate == nil:
		out.guess = "No weather of a drying place is in the book, so a year for each 25 mm of thickness is reckoned."
	case !ok:
		out.guess = fmt.Sprintf("The density of %s is not known, so a year for each 25 mm of thickness is reckoned.", sp.Name)
	default:
		in := d.timber[sp.ID]
		if in.targetPct == 0 {
			in.targetPct = usualTargetPct
		}
		q := timber.DryQuestion{StackedOn: month, ThicknessMM: thicknessMM, SpeciesCode: sp.Code, Gravity: gravity, StartMCPct: in.startPct, TargetMCPct: in.targetPct, Months: climate.Months}
		if sp.GreenMCPct != nil {
			q.GreenMCPct = sp.GreenMCPct.InexactFloat64()
		}
		if sp.Slowness != nil {
			q.Slowness = sp.Slowness.InexactFloat64()
		}
		dates, err := d.memo.dry(ctx, q)
		if err != nil {
			return out, err
		}
		switch {
		case dates.ReadyOnP80 != nil:
			out.on = *dates.ReadyOnP80
		case dates.ReadyOn != nil:
			out.on = *dates.ReadyOn
		default:
			out.never = true
		}
	}
	d.known[key] = out
	return out, nil
}

// latestStack gives the last day on which boards can be stacked to be dressed by a day;
// false when they never get dry. It steps back by what is missing, and halves where that
// leads nowhere; later stacks are never dry earlier. guess is how many days before by to
// look first.
func (d *dryPlace) latestStack(ctx context.Context, sp timber.Species, thicknessMM float64, by time.Time, guess int) (time.Time, bool, error) {
	const most = 4096
	low, high := 0, most+1 // days before: too late, and soon enough
	for n := max(1, min(guess, most)); high-low > 1; {
		out, err := d.dryBy(ctx, sp, thicknessMM, by.AddDate(0, 0, -n))
		if err != nil {
			return time.Time{}, false, err
		}
		if out.never {
			return time.Time{}, false, nil
		}
		slack := int(by.Sub(out.on.AddDate(0, 0, dressDays)).Hours() / 24)
		if slack >= 0 {
			high = n
		} else {
			low = n
		}
		next := n - slack
		if slack == 0 {
			next = n - 1
		}
		if next <= low || next >= high {
			next = (low + high) / 2
			if high > most {
				next = min(2*low, most)
			}
		}
		if n == most && slack < 0 {
			return time.Time{}, false, nil
		}
		n = next
	}
	return by.AddDate(0, 0, -high), true, nil
}

// millDeadline fills in the green size and the days of a board size.
func (r *Room) millDeadline(ctx context.Context, set house.Settings, b *millBook, s *MillSize) error {
	sp := b.species[s.SpeciesID]
	green, err := sp.GreenSize(ctx, timber.Size{WidthMM: decimal.NewFromFloat(s.WidthMM), ThicknessMM: decimal.NewFromFloat(s.ThicknessMM)}, timber.AllowanceOf(set))
	if err != nil {
		return fmt.Errorf("green size of %s: %w", s.Name(), err)
	}
	s.GreenWidthMM, s.GreenThicknessMM = green.WidthMM.InexactFloat64(), green.ThicknessMM.InexactFloat64()
	if s.First() == nil {
		return nil
	}
	now, err := b.dry.dryBy(ctx, sp, s.GreenThicknessMM, b.day.AddDate(0, 0, sawDays))
	if err != nil {
		return fmt.Errorf("drying of %s: %w", s.Name(), err)
	}
	if now.guess != "" {
		s.Notes = append(s.Notes, now.guess)
	}
	if now.never {
		s.Notes = append(s.Notes, fmt.Sprintf("The weather of %s never brings it to %.0f %%: a chamber, or a higher target, is needed before a day can be said.", b.dry.climateOf(sp.ID).Name, b.dry.timber[sp.ID].targetPct))
	} else {
		s.DryOn = ptr(now.on.AddDate(0, 0, dressDays))
	}
	for _, short := range []*MillShort{s.Expected, s.Careful} {
		if short == nil {
			continue
		}
		stack, ok, err := b.dry.latestStack(ctx, sp, s.GreenThicknessMM, laterDay(short.On, b.day), int(now.on.Sub(b.day).Hours()/24)+dressDays)
		if err != nil {
			return fmt.Errorf("drying of %s: %w", s.Name(), err)
		}
		if ok {
			short.SawBy = ptr(stack.AddDate(0, 0, -sawDays))
			short.Late = short.SawBy.Before(b.day)
		}
	}
	return nil
}

// Limits of the search for logs; our choices.
const (
	millLogsMost = 8    // logs of a timber whose patterns are worked out, the largest first
	logTaper     = 0.01 // mm of diameter for each mm of length, of a log to look for
	logStepMM    = 10
	logLeastMM   = 120
	logExtraMM   = 100 // a log is longer than its boards
)

// MillLog is a log that lies there and what it gives of a size.
type MillLog struct {
	ID      int64
	Number  string
	GivesMM float64
	Boards  int
	TooWide bool // for the mill
}

// logGives is what the best pattern of a log gives by size.
type logGives struct {
	log    timber.Log
	mm     map[millKey]float64
	boards map[millKey]int
	wide   bool
}

// millLogs chooses logs for the sizes that run short, one timber after the other.
func (r *Room) millLogs(ctx context.Context, set house.Settings, sizes []MillSize) error {
	by := map[int64][]*MillSize{}
	var order []int64
	for i := range sizes {
		s := &sizes[i]
		if s.First() == nil {
			continue
		}
		if by[s.SpeciesID] == nil {
			order = append(order, s.SpeciesID)
		}
		by[s.SpeciesID] = append(by[s.SpeciesID], s)
	}
	if len(order) == 0 {
		return nil
	}
	logs, _, err := r.Timber.LogList(ctx, timber.LogFilter{Open: true, Limit: 200})
	if err != nil {
		return err
	}
	for _, id := range order {
		if err := r.logsFor(ctx, set, by[id], logsOf(logs, id)); err != nil {
			return err
		}
	}
	return nil
}

// logsOf are the logs of a timber, the largest first, at most millLogsMost.
func logsOf(all []timber.Log, species int64) []timber.Log {
	list := slices.DeleteFunc(slices.Clone(all), func(g timber.Log) bool { return g.SpeciesID != species || g.SawnAt != nil || g.PutAwayAt != nil })
	volume := func(g timber.Log) float64 {
		d := g.SmallEndMM.InexactFloat64()
		return d * d * g.LengthMM.InexactFloat64()
	}
	slices.SortStableFunc(list, func(a, b timber.Log) int { return cmp.Compare(volume(b), volume(a)) })
	return list[:min(len(list), millLogsMost)]
}

func (r *Room) logsFor(ctx context.Context, set house.Settings, short []*MillSize, logs []timber.Log) error {
	gives := []logGives{}
	for _, g := range logs {
		one, err := r.patternFor(ctx, set, g, short)
		if err != nil {
			return err
		}
		if len(one.mm) > 0 {
			gives = append(gives, one)
		}
	}
	need := map[millKey]float64{}
	for _, s := range short {
		need[s.key] = s.First().SawMM
	}
	for _, i := range chooseLogs(need, gives) {
		for _, s := range short {
			if mm := gives[i].mm[s.key]; mm > 0 {
				s.Logs = append(s.Logs, MillLog{gives[i].log.ID, gives[i].log.Number, mm, gives[i].boards[s.key], gives[i].wide})
			}
		}
	}
	for _, s := range short {
		missing := s.First().SawMM
		for _, g := range s.Logs {
			missing -= g.GivesMM
		}
		if missing < 1 {
			continue
		}
		var err error
		if s.LookFor, err = r.lookFor(ctx, set, s, missing); err != nil {
			return err
		}
	}
	return nil
}

// wanted are the boards of sizes that run short, a metre worth its section.
func wanted(short []*MillSize, lengthMM, shortBoardMM float64) []sawing.BoardIn {
	list := make([]sawing.BoardIn, len(short))
	least := min(shortBoardMM, lengthMM)
	for i, s := range short {
		list[i] = sawing.BoardIn{ID: s.Size(), WidthMM: s.GreenWidthMM, ThicknessMM: s.GreenThicknessMM, Value: s.WidthMM * s.ThicknessMM / 2800, MinLengthMM: &least}
	}
	return list
}

// A log's pattern is sought several times, each time with less value on sizes of which the
// last one gave more than is needed and more on the others: first by steerBy, then by
// its root, and so on above steerLeast (our choices). Sizes take turns rather than mix
// where the step is large.
const (
	steerBy    = 1.5
	steerLeast = 1.01
)

// patternFor works out what a log gives of the sizes that run short: of a few patterns the
// one that covers most of what is needed. A log that cannot be laid out gives nothing.
func (r *Room) patternFor(ctx context.Context, set house.Settings, g timber.Log, short []*MillSize) (logGives, error) {
	limit, length := set.MillLimitMM.InexactFloat64(), g.LengthMM.InexactFloat64()
	in := sawing.PatternIn{SmallEndMM: g.SmallEndMM.InexactFloat64(), LargeEndMM: g.LargeEndMM.InexactFloat64(), LengthMM: length,
		KerfMM: set.MillKerfMM.InexactFloat64(), MillLimitMM: &limit, SweepMM: g.SweepMM.InexactFloat64(), Boards: wanted(short, length, float64(set.ShortBoardMM))}
	best, most := logGives{log: g}, 0.0
	for by := steerBy; by > steerLeast; by = math.Sqrt(by) {
		out, err := r.sawn.pattern(ctx, in)
		if err != nil {
			return best, ctx.Err()
		}
		one := logGives{log: g, mm: map[millKey]float64{}, boards: map[millKey]int{}, wide: !out.FitsMill}
		for _, l := range out.Layout {
			for _, s := range short {
				if s.Size() == l.ID {
					one.mm[s.key] += l.LengthMM
					one.boards[s.key]++
				}
			}
		}
		covered, steered := 0.0, false
		in.Boards = slices.Clone(in.Boards)
		for i, s := range short {
			need := s.First().SawMM
			covered += min(need, one.mm[s.key]) * s.WidthMM * s.ThicknessMM
			if one.mm[s.key] < need {
				in.Boards[i].Value *= by
				continue
			}
			in.Boards[i].Value /= by
			steered = true
		}
		if covered > most {
			best, most = one, covered
		}
		if !steered {
			break
		}
	}
	return best, nil
}

// patternMemo keeps patterns that were found, each under all that it follows from.
type patternMemo struct {
	mu       sync.Mutex
	patterns map[string]sawing.PatternOut
}

// patternMemoMost is how many patterns are kept; then it begins anew.
const patternMemoMost = 1024

func (m *patternMemo) pattern(ctx context.Context, in sawing.PatternIn) (sawing.PatternOut, error) {
	raw, err := json.Marshal(in)
	if err != nil {
		return sawing.PatternOut{}, fmt.Errorf("pattern: %w", err)
	}
	key := string(raw)
	m.mu.Lock()
	out, ok := m.patterns[key]
	m.mu.Unlock()
	if ok {
		return out, nil
	}
	if out, err = sawing.Pattern(ctx, in); err != nil {
		return out, err
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.patterns == nil || len(m.patterns) >= patternMemoMost {
		m.patterns = map[string]sawing.PatternOut{}
	}
	m.patterns[key] = out
	return out, nil
}

// chooseLogs gives the places of the logs to saw: those that cover most of what is
// needed, of those the fewest, of those the cheapest with haulage. It looks at every
// choice; logs are at most millLogsMost.
func chooseLogs(need map[millKey]float64, logs []logGives) []int {
	type choice struct {
		covered float64
		count   int
		cost    int64
		bits    int
	}
	best := choice{}
	for bits := 1; bits < 1<<len(logs); bits++ {
		c := choice{bits: bits}
		sum := map[millKey]float64{}
		for i, g := range logs {
			if bits&(1<<i) == 0 {
				continue
			}
			c.count++
			c.cost += g.log.CostMinor + g.log.HaulageMinor
			for key, mm := range g.mm {
				sum[key] += mm
			}
		}
		for key, mm := range need {
			c.covered += math.Floor(min(mm, sum[key])) // whole mm, so that sums compare
		}
		if cmp.Or(cmp.Compare(c.covered, best.covered), cmp.Compare(best.count, c.count), cmp.Compare(best.cost, c.cost)) > 0 {
			best = c
		}
	}
	var list []int
	for i := range logs {
		if best.bits&(1<<i) != 0 {
			list = append(list, i)
		}
	}
	return list
}

// lookFor says which log gives what is still missing: the thinnest that does, or how many
// of the thickest the mill takes.
func (r *Room) lookFor(ctx context.Context, set house.Settings, s *MillSize, missingMM float64) (string, error) {
	length := float64(s.First().BoardMM)
	gives := func(diameter float64) (float64, error) {
		full := length
		out, err := r.sawn.pattern(ctx, sawing.PatternIn{SmallEndMM: diameter, LargeEndMM: diameter + logTaper*(length+logExtraMM), LengthMM: length + logExtraMM, KerfMM: set.MillKerfMM.InexactFloat64(),
			Boards: []sawing.BoardIn{{ID: "board", WidthMM: s.GreenWidthMM, ThicknessMM: s.GreenThicknessMM, Value: 1, MinLengthMM: &full}}})
		if err != nil {
			return 0, ctx.Err()
		}
		return float64(len(out.Layout)) * length, nil
	}
	most := math.Floor((set.MillLimitMM.InexactFloat64()-logTaper*(length+logExtraMM))/logStepMM) * logStepMM
	best, err := gives(most)
	if err != nil || best == 0 {
		return "No log that the mill takes gives this size.", err
	}
	boards := int(math.Ceil(missingMM/length - 1e-9))
	if best < missingMM {
		return fmt.Sprintf("Look for %d logs at least %.0f mm thick at the small end and %.1f m long: %s still missing.", int(math.Ceil(missingMM/best)), most, (length+logExtraMM)/1000, show.Count(int64(boards), "board is", "boards are")), nil
	}
	low, high := 0, int(most-logLeastMM)/logStepMM
	for low < high {
		mid := (low + high) / 2
		mm, err := gives(logLeastMM + logStepMM*float64(mid))
		if err != nil {
			return "", err
		}
		if mm >= missingMM {
			high = mid
		} else {
			low = mid + 1
		}
	}
	return fmt.Sprintf("Look for a log at least %d mm thick at the small end and %.1f m long: %s still missing.", logLeastMM+logStepMM*low, (length+logExtraMM)/1000, show.Count(int64(boards), "board is", "boards are")), nil
}
