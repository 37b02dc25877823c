package answer

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"time"

	"github.com/shopspring/decimal"

	"kerfbook/internal/calc/cutting"
	"kerfbook/internal/calc/hive"
	"kerfbook/internal/house"
	"kerfbook/internal/show"
	"kerfbook/internal/timber"
)

// Limits of the cutting plans of one answer together, so that an answer comes at once;
// where a plan is not proved, the answer says "about".
const (
	planTimeMS = 16
	planWork   = 150_000
)

// wasteFactor is what boards that are not on the rack yet are reckoned to take beyond
// the parts themselves (our estimate).
const wasteFactor = 1.15

// step is when something is there: days with the chance that it is there by then.
type step []point

type point struct {
	on     time.Time
	chance float64
}

// surely is a step that is there on day.
func surely(day time.Time) step { return step{{day, 0.99}} }

// later gives the step that comes last, by the day of its four-in-five chance.
func (s step) later(o step) step {
	if len(s) == 0 || o.day().After(s.day()) {
		return o
	}
	return s
}

// day is the first with four-in-five chance, or the last.
func (s step) day() time.Time {
	for _, p := range s {
		if p.chance >= 0.8 {
			return p.on
		}
	}
	if len(s) == 0 {
		return time.Time{}
	}
	return s[len(s)-1].on
}

// plan works out parts, boards, fittings and minutes of the boxes that are built anew;
// where none is, of as many as are wanted, for the cost alone.
func (w *working) plan(ctx context.Context) error {
	n := w.fresh
	if n == 0 {
		n = w.n
	}
	w.needs.Fresh = w.fresh
	for _, o := range w.model.Operations {
		w.needs.SetupMinutes += o.SetupMinutes
		w.needs.PieceMinutes += o.PieceMinutes
		if o.OwnerOnly {
			w.needs.OwnSetup, w.needs.OwnPiece = w.needs.OwnSetup+o.SetupMinutes, w.needs.OwnPiece+o.PieceMinutes
		}
	}
	for i, o := range w.model.Operations {
		if i < len(w.model.Operations)-1 {
			w.needs.WaitMinutes += o.WaitMinutes
		}
	}
	for _, p := range w.parts {
		w.needs.Parts = append(w.needs.Parts, PartNeed{p.Name, p.BoardSize.WidthMM, p.BoardSize.ThicknessMM, float64(p.LengthTenths()) / 10, p.Count})
	}
	w.timber, w.fitting = surely(w.day), surely(w.day)
	if err := w.planTimber(ctx, n); err != nil {
		return err
	}
	return w.planFittings(ctx, n)
}

// planTimber lays the parts of n boxes on the rack, one board size at a time.
func (w *working) planTimber(ctx context.Context, n int) error {
	if w.species == nil {
		return nil
	}
	w.needs.SpeciesID = w.species.ID
	needs := hive.Boards(w.parts)
	var cost int64
	var ofLots, ofStandard float64
	for _, need := range needs {
		free := w.freeOf(need.BoardSize)
		p := layGrades(ctx, w.set, w.day, w.parts, need.BoardSize, n, free, planTimeMS/len(needs))
		cost += p.costMinor + w.metreCost(need.BoardSize, p.missingMM*wasteFactor)
		ofLots, ofStandard = ofLots+p.usedMM, ofStandard+p.missingMM*wasteFactor
		if w.fresh > 0 {
			w.needs.Boards = append(w.needs.Boards, BoardNeed{need.WidthMM, need.ThicknessMM, p.usedMM + p.missingMM*wasteFactor})
			if err := w.timberReason(ctx, need.BoardSize, free, p); err != nil {
				return err
			}
		}
	}
	w.addCost("timber", fmt.Sprintf("%s for %s%s", w.species.Name, boxes(w.n), costedAt(ofLots, ofStandard)), cost, n)
	return nil
}

// costedAt says which cost of a metre boards were reckoned at: that of the lots they are
// laid on, or the standard cost where no lot is there.
func costedAt(ofLotsMM, ofStandardMM float64) string {
	switch {
	case ofStandardMM == 0:
		return ", at the cost of the boards on the rack"
	case ofLotsMM == 0:
		return ", at the standard cost"
	}
	return fmt.Sprintf(", %s at the cost of the boards on the rack, %s at the standard cost", metres(ofLotsMM), metres(ofStandardMM))
}

func boxes(n int) string { return show.Count(int64(n), "box", "boxes") }

// freeOf are the free boards of a size, less what unanswered quotes keep, the longest
// first taken away.
func (w *working) freeOf(b hive.BoardSize) []timber.FreeLot {
	i := slices.IndexFunc(w.sizes, func(z timber.Size) bool { return sameSize(z, b) })
	if i < 0 {
		return nil
	}
	var free []timber.FreeLot
	for _, l := range w.lots {
		if l.SizeID == w.sizes[i].ID {
			free = append(free, l)
		}
	}
	keep := w.held.boards[w.species.ID][size{b.WidthMM, b.ThicknessMM}]
	for j := len(free) - 1; j >= 0 && keep > 0; j-- { // FreeBoards gives the shortest first
		gone := min(free[j].Free, int(math.Ceil(keep/float64(free[j].LengthMM))))
		free[j].Free -= gone
		keep -= float64(gone * free[j].LengthMM)
	}
	return slices.DeleteFunc(free, func(l timber.FreeLot) bool { return l.Free <= 0 })
}

// partsOf are the parts of n boxes that are cut from boards of a size and of a grade or
// better.
func partsOf(parts []hive.CutPart, b hive.BoardSize, grade string, n int) []cutting.Part {
	var list []cutting.Part
	for _, p := range parts {
		if p.BoardSize == b && poorest(p) == grade {
			list = append(list, cutting.Part{ID: p.ID, LengthMM: float64(p.LengthTenths()) / 10, Count: p.Count * n})
		}
	}
	return list
}

// poorest is the poorest grade that may serve a part.
func poorest(p hive.CutPart) string {
	if p.Grade == "" {
		return hive.Grades[len(hive.Grades)-1]
	}
	return p.Grade
}

// layGrades lays the parts of n boxes that come from a board size, those that need the
// better boards first; each takes boards of its grade or better.
func layGrades(ctx context.Context, set house.Settings, day time.Time, parts []hive.CutPart, b hive.BoardSize, n int, free []timber.FreeLot, limitMS int) laid {
	out := laid{boards: map[int64]int{}, proved: true}
	free = slices.Clone(free)
	for rank, grade := range hive.Grades {
		mine := partsOf(parts, b, grade, n)
		if len(mine) == 0 {
			continue
		}
		fit := slices.DeleteFunc(slices.Clone(free), func(f timber.FreeLot) bool {
			return slices.Index(hive.Grades, f.Grade) > rank || f.Free <= 0
		})
		p := layBoards(ctx, set, day, mine, fit, limitMS)
		for i := range free {
			free[i].Free -= p.boards[free[i].LotID]
		}
		out.join(p)
	}
	return out
}

// join adds a plan to others.
func (l *laid) join(o laid) {
	for id, n := range o.boards {
		l.boards[id] += n
	}
	l.usedMM, l.missingMM, l.costMinor = l.usedMM+o.usedMM, l.missingMM+o.missingMM, l.costMinor+o.costMinor
	l.longestMM, l.proved = max(l.longestMM, o.longestMM), l.proved && o.proved
}

// laid is a cutting plan of one board size over real lots.
type laid struct {
	boards    map[int64]int // boards by lot
	usedMM    float64       // whole boards less offcuts that are kept
	missingMM float64       // parts that found no board, end to end
	longestMM float64       // of those
	costMinor int64         // of what is used
	proved    bool
}

// layBoards makes the cutting plan of parts on free boards. What cannot be planned counts
// as missing; a plan never fails.
func layBoards(ctx context.Context, set house.Settings, day time.Time, parts []cutting.Part, free []timber.FreeLot, limitMS int) laid {
	trim, keep := set.TrimMM.InexactFloat64(), float64(set.KeepOffcutMM)
	work := planWork
	in := cutting.In{KerfMM: set.SawKerfMM.InexactFloat64(), TrimMM: trim, KeepOffcutMM: &keep, TimeLimitMS: ptr(max(2, limitMS)), WorkLimit: &work}
	lots, longest := map[string]timber.FreeLot{}, 0.0
	for _, f := range free {
		if float64(f.LengthMM) <= 2*trim {
			continue
		}
		id := strconv.FormatInt(f.LotID, 10)
		lots[id] = f
		in.Boards = append(in.Boards, cutting.Board{ID: id, LengthMM: float64(f.LengthMM), Count: f.Free, Offcut: f.Offcut, AgeDays: max(0, day.Sub(f.FirstInOn).Hours()/24)})
		longest = max(longest, float64(f.LengthMM)-2*trim)
	}
	out := laid{boards: map[int64]int{}}
	length := map[string]float64{}
	for _, p := range parts {
		length[p.ID] = p.LengthMM
		if p.LengthMM > longest {
			out.miss(p.LengthMM, p.Count)
			continue
		}
		in.Parts = append(in.Parts, p)
	}
	if len(in.Parts) == 0 {
		return out
	}
	plan, err := cutting.Plan(ctx, in)
	if err != nil { // such as a kerf wider than a part: nothing can be laid, all is missing
		for _, p := range in.Parts {
			out.miss(p.LengthMM, p.Count)
		}
		return out
	}
	out.proved = plan.Proved
	cost := decimal.Zero
	for _, l := range plan.Layouts {
		lot := lots[l.Board]
		used := float64(lot.LengthMM)
		if l.OffcutMM >= keep {
			used -= l.OffcutMM
		}
		out.boards[lot.LotID] += l.Times
		out.usedMM += used * float64(l.Times)
		cost = cost.Add(decimal.NewFromFloat(used).Mul(decimal.NewFromInt(int64(l.Times) * lot.MetreCostMinor)).Div(decimal.NewFromInt(1000)))
	}
	out.costMinor = cost.Round(0).IntPart()
	for _, u := range plan.Unplaced {
		out.miss(length[u.Part], u.Count)
	}
	return out
}

func (l *laid) miss(lengthMM float64, count int) {
	l.missingMM += lengthMM * float64(count)
	l.longestMM = max(l.longestMM, lengthMM)
}

// metreCost is the standard cost of a length of a board size in minor units; standard
// costs are for a section of 100 x 28 mm.
func (w *working) metreCost(b hive.BoardSize, lengthMM float64) int64 {
	return int64(math.Round(float64(w.species.MetreCostMinor) * b.WidthMM * b.ThicknessMM / 2800 * lengthMM / 1000))
}

// timberReason says how the boards of a size stand, and when what is missing is dry.
func (w *working) timberReason(ctx context.Context, b hive.BoardSize, free []timber.FreeLot, p laid) error {
	var freeMM float64
	for _, l := range free {
		freeMM += float64(l.Free * l.LengthMM)
	}
	about := ""
	if !p.proved && p.missingMM == 0 {
		about = "about "
	}
	name := fmt.Sprintf("%s %s x %s", w.species.Name, trimmed(b.WidthMM), trimmed(b.ThicknessMM))
	if p.missingMM == 0 {
		w.say(PartTimber, "%s: %s free, %s%s needed.", name, metres(freeMM), about, metres(p.usedMM))
		return nil
	}
	s := timber.Shortage{SpeciesName: w.species.Name, WidthMM: decimal.NewFromFloat(b.WidthMM), ThicknessMM: decimal.NewFromFloat(b.ThicknessMM),
		MissingMM: int64(math.Ceil(p.missingMM)), LongestMM: int64(math.Ceil(p.longestMM))}
	w.short(PartTimber, "%s: %s free; %s, the longest piece %s mm.", name, metres(freeMM), s.String(), trimmed(p.longestMM))
	return w.fromPacks(ctx, name, b, p)
}

// fromPacks looks for packs and orders that will give what is missing, the soonest first.
func (w *working) fromPacks(ctx context.Context, name string, b hive.BoardSize, p laid) error {
	var list []source
	if i := slices.IndexFunc(w.sizes, func(z timber.Size) bool { return sameSize(z, b) }); i >= 0 {
		var err error
		if list, err = w.sources(ctx, w.sizes[i].ID); err != nil {
			return err
		}
	}
	missing := p.missingMM * wasteFactor
	var last source
	for _, from := range list {
		if missing <= 0 {
			break
		}
		if float64(from.longestMM) < p.longestMM {
			continue
		}
		missing -= from.gives
		last = from
	}
	if missing > 0 {
		w.timber = step{} // nobody knows when
		w.saySelf(Reason{Part: PartTimber, Late: true, Short: true, Text: fmt.Sprintf("%s: the packs that dry and what is on order do not give what is missing. It must be milled or bought first.", name)})
		return nil
	}
	if len(w.timber) > 0 {
		w.timber = w.timber.later(last.when)
	}
	w.saySelf(Reason{Part: PartTimber, Late: true, Text: fmt.Sprintf("%s: %s %s.", name, last.words, show.Date(last.when.day()))})
	return nil
}

// drySteps makes a step curve from the stored even-odds and four-in-five days of a pack;
// beyond them the same distance again (our estimate).
func drySteps(p timber.DryingPack, today time.Time) step {
	p80 := laterDay(*p.ReadyOnP80, today)
	p50 := p80
	if p.ReadyOn != nil {
		p50 = laterDay(*p.ReadyOn, today)
	}
	spread := max(p80.Sub(p50), 3*24*time.Hour).Truncate(24 * time.Hour)
	return step{{p50, 0.5}, {p80, 0.8}, {p80.Add(spread), 0.95}, {p80.Add(2 * spread), 0.99}}
}

func laterDay(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// planFittings costs the fittings of n boxes and says which are short and how long they
// take to come.
func (w *working) planFittings(ctx context.Context, n int) error {
	cost := map[string]int64{}
	for _, f := range w.model.Fittings {
		need := f.Count * n
		if w.fresh > 0 {
			w.needs.Fittings = append(w.needs.Fittings, hive.Fitting{ID: f.ID, Count: need})
		}
		item, ok := w.items[f.ID]
		if !ok {
			w.short(PartFittings, "%s is not among the fittings yet, so its cost is not counted.", f.ID)
			continue
		}
		kind := "fittings"
		if item.Kind == "finish" {
			kind = "finish"
		}
		cost[kind] += item.CostMinor * int64(need)
		if w.fresh == 0 {
			continue
		}
		missing := 0
		if item.Counted {
			missing = need - max(0, item.Free())
		}
		if missing > 0 || (!item.Counted && item.Low) {
			if err := w.fittingShort(ctx, item, missing); err != nil {
				return err
			}
		}
	}
	for _, kind := range []string{"fittings", "finish"} {
		if cost[kind] > 0 {
			w.addCost(kind, kindWords[kind], cost[kind], n)
		}
	}
	return nil
}

var kindWords = map[string]string{"fittings": "Fittings", "finish": "Finish"}

func metres(mm float64) string {
	return strconv.FormatFloat(math.Ceil(mm/100-1e-9)/10, 'f', 1, 64) + " m"
}

func trimmed(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
