package answer

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"github.com/shopspring/decimal"

	"kerfbook/internal/calc/contract"
	"kerfbook/internal/calc/sawing"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/show"
	"kerfbook/internal/timber"
)

// sawingSizes is how many board sizes of models are looked for in one log.
const sawingSizes = 12

// greenKgM3 is what a cubic metre of fresh logs weighs, for a caution only; common
// practice, no source.
const greenKgM3 = 1000

// LogYield is what a log gives, by the drawing and by experience.
type LogYield struct {
	Log         timber.Log
	Sizes       []YieldSize // what was looked for
	HeartBoxMM  float64
	ShortestMM  int
	KerfMM      float64
	MillLimitMM float64
	Out         sawing.PatternOut
	DrawnMM     float64       // metres of boards by the drawing, in mm
	Yields      timber.Yields // what earlier logs of the timber gave against their drawings
	LikelyM3    float64       // DrawnM3 by that experience
	LikelyMM    float64
	Valued      bool  // the sizes have a value in money
	ValueMinor  int64 // of the likely boards that the mill can take, cut to length in the best way
	SawingMin   int
	MinutesFrom int // how many logs the minutes are from; 0: the workshop's figure
	SawingMinor int64
	Choices     []LogChoice // ways to cut it to length; empty when it is best left whole
	MillBy      *time.Time
	MillByWhy   string
	Cautions    []string
}

// CostMinor is what the log costs until its boards are green.
func (y LogYield) CostMinor() int64 { return y.Log.CostMinor + y.Log.HaulageMinor + y.SawingMinor }

// MarginMinor is what the likely boards are worth above that; below zero when it is not
// worth it.
func (y LogYield) MarginMinor() int64 { return y.ValueMinor - y.CostMinor() }

// Best is the way to cut the log to length that gives the most; nil where none was tried or
// none gives anything.
func (y LogYield) Best() *LogChoice {
	for i, x := range y.Choices {
		if x.Best {
			return &y.Choices[i]
		}
	}
	return nil
}

// YieldSize is a board size looked for and what the drawing gives of it.
type YieldSize struct {
	ID         string // as the drawing names it
	Key        string // its letter in the drawing; empty when the log holds none
	Dressed    timber.Size
	Green      timber.Size
	ValueMinor int64 // of a metre; 0: not known
	Boards     int
	TotalMM    float64
}

// LogYield says what a log of the book gives, with what is wanted of it. Errors: NotFound;
// Conflict when nothing is wanted; Invalid when it cannot be laid out.
func (r *Room) LogYield(ctx context.Context, id int64) (LogYield, error) {
	g, err := r.Timber.LogGet(ctx, id)
	if err != nil {
		return LogYield{}, err
	}
	return r.yieldOf(ctx, g, true)
}

// LogLook says what a log would give that is not in the book. Errors: as for LogSave and
// LogYield.
func (r *Room) LogLook(ctx context.Context, g timber.Log, sure bool) (LogYield, error) {
	if g.Wish != nil {
		if err := g.Wish.Check(); err != nil {
			return LogYield{}, err
		}
	}
	g, err := r.Timber.LogLook(ctx, g, sure)
	if err != nil {
		return LogYield{}, err
	}
	return r.yieldOf(ctx, g, true)
}

// yieldOf lays a log out; choices says whether other lengths are tried too.
func (r *Room) yieldOf(ctx context.Context, g timber.Log, choices bool) (LogYield, error) {
	set, _, err := r.settings(ctx)
	if err != nil {
		return LogYield{}, err
	}
	sp, err := r.Timber.SpeciesGet(ctx, g.SpeciesID)
	if err != nil {
		return LogYield{}, err
	}
	y := LogYield{Log: g, KerfMM: set.MillKerfMM.InexactFloat64(), MillLimitMM: set.MillLimitMM.InexactFloat64(), ShortestMM: set.ShortBoardMM}
	if y.Sizes, err = r.wanted(ctx, g, sp, set); err != nil {
		return y, err
	}
	if g.Wish != nil {
		y.HeartBoxMM = g.Wish.HeartBoxMM
		if g.Wish.ShortestMM > 0 {
			y.ShortestMM = g.Wish.ShortestMM
		}
	}
	if y.Out, err = y.pattern(ctx, wholeLog(g)); err != nil {
		return y, err
	}
	y.count()
	if err := r.reckon(ctx, &y, set); err != nil {
		return y, err
	}
	if choices {
		if y.Choices, err = y.choices(ctx); err != nil {
			return y, err
		}
		if !y.Out.FitsMill { // only what the mill can take is worth something
			y.ValueMinor = 0
			if best := y.Best(); best != nil {
				y.ValueMinor = best.ValueMinor
			}
		}
	}
	south := set.Latitude == nil || *set.Latitude < 0 // where it is not known: our standard workshop lies south
	if by, why, ok := g.MillBy(sp.BorersLikeSapwood, south); ok {
		y.MillBy, y.MillByWhy = &by, why
	} else {
		y.MillByWhy = why
	}
	y.Cautions = logCautions(g)
	return y, nil
}

// wanted are the sizes looked for in a log: those of its wish, else those of the models in
// use. A metre is worth what the wish says, else what a metre costs by the book.
func (r *Room) wanted(ctx context.Context, g timber.Log, sp timber.Species, set house.Settings) ([]YieldSize, error) {
	var list []timber.WishSize
	if g.Wish != nil {
		list = g.Wish.Sizes
	}
	if len(list) == 0 {
		sizes, err := r.ModelSizes(ctx)
		if err != nil {
			return nil, err
		}
		for _, z := range sizes {
			list = append(list, timber.WishSize{WidthMM: z.WidthMM.InexactFloat64(), ThicknessMM: z.ThicknessMM.InexactFloat64()})
		}
	}
	if len(list) == 0 {
		return nil, fault.New(fault.Conflict, "Say which board sizes you want of it, or draw up a model: its board sizes say what to saw.")
	}
	var out []YieldSize
	for _, w := range list {
		z := YieldSize{Dressed: timber.Size{WidthMM: decimal.NewFromFloat(w.WidthMM).Round(1), ThicknessMM: decimal.NewFromFloat(w.ThicknessMM).Round(1)}}
		z.ID = show.BoardSize(z.Dressed.WidthMM, z.Dressed.ThicknessMM)
		var err error
		if z.Green, err = sp.GreenSize(ctx, z.Dressed, timber.AllowanceOf(set)); err != nil {
			return nil, err
		}
		z.ValueMinor = StandardMetreMinor(sp, z.Dressed)
		if w.ValueMinor != nil {
			z.ValueMinor = *w.ValueMinor
		}
		out = append(out, z)
	}
	return out, nil
}

// StandardMetreMinor is what a metre of that dressed size costs by the timber's standard
// cost, in minor units.
func StandardMetreMinor(sp timber.Species, z timber.Size) int64 {
	return decimal.NewFromInt(sp.MetreCostMinor).Mul(z.WidthMM).Mul(z.ThicknessMM).DivRound(decimal.NewFromInt(2800), 0).IntPart()
}

// ModelSizes gives the board sizes that the models in use take, each once, in the order of
// the models; at most twelve.
func (r *Room) ModelSizes(ctx context.Context) ([]timber.Size, error) {
	models, err := r.Workshop.ModelList(ctx, false)
	if err != nil {
		return nil, err
	}
	seen := map[string]bool{}
	var out []timber.Size
	for _, m := range models {
		if m.LatestID == nil || len(out) == sawingSizes {
			continue
		}
		rev, err := r.Workshop.RevisionGet(ctx, *m.LatestID)
		if err != nil {
			return nil, err
		}
		for _, p := range rev.Body.Parts {
			z := timber.Size{WidthMM: decimal.NewFromFloat(p.BoardSize.WidthMM).Round(1), ThicknessMM: decimal.NewFromFloat(p.BoardSize.ThicknessMM).Round(1)}
			if z.ThicknessMM.GreaterThan(z.WidthMM) {
				z.WidthMM, z.ThicknessMM = z.ThicknessMM, z.WidthMM
			}
			if !seen[z.String()] && len(out) < sawingSizes {
				seen[z.String()] = true
				out = append(out, z)
			}
		}
	}
	return out, nil
}

// stem is a log, or a length of one.
type stem struct{ smallMM, largeMM, lengthMM, sweepMM float64 }

func wholeLog(g timber.Log) stem {
	return stem{g.SmallEndMM.InexactFloat64(), g.LargeEndMM.InexactFloat64(), g.LengthMM.InexactFloat64(), g.SweepMM.InexactFloat64()}
}

// pattern lays out a stem. Sizes without a value weigh by their section where none has one.
func (y LogYield) pattern(ctx context.Context, s stem) (sawing.PatternOut, error) {
	in := sawing.PatternIn{SmallEndMM: s.smallMM, LargeEndMM: s.largeMM, LengthMM: s.lengthMM, SweepMM: s.sweepMM, KerfMM: y.KerfMM, HeartBoxMM: y.HeartBoxMM, MillLimitMM: &y.MillLimitMM}
	valued := y.valued()
	for _, z := range y.Sizes {
		short := min(float64(y.ShortestMM), s.lengthMM)
		value := float64(z.ValueMinor)
		if !valued {
			value = z.Dressed.WidthMM.Mul(z.Dressed.ThicknessMM).InexactFloat64() / 28
		}
		in.Boards = append(in.Boards, sawing.BoardIn{ID: z.ID, WidthMM: z.Green.WidthMM.InexactFloat64(), ThicknessMM: z.Green.ThicknessMM.InexactFloat64(), Value: value, MinLengthMM: &short})
	}
	out, err := sawing.Pattern(ctx, in)
	var bad *contract.Error
	if errors.As(err, &bad) {
		var l fault.List
		for _, f := range bad.Fields {
			l.Add(f.Pointer, "This log cannot be laid out: it %s.", f.Detail)
		}
		return out, l.Err()
	}
	return out, err
}

func (y LogYield) valued() bool {
	for _, z := range y.Sizes {
		if z.ValueMinor > 0 {
			return true
		}
	}
	return false
}

// count adds the drawing up by sizes.
func (y *LogYield) count() {
	at := map[string]int{}
	for i, z := range y.Sizes {
		at[z.ID] = i
	}
	for _, b := range y.Out.Layout {
		z := &y.Sizes[at[b.ID]]
		z.Boards++
		z.TotalMM += b.LengthMM
		y.DrawnMM += b.LengthMM
	}
	next := 'A'
	for i := range y.Sizes {
		if y.Sizes[i].Boards > 0 {
			y.Sizes[i].Key = string(next)
			next++
		}
	}
}

// KeyOf gives the letter of a board in the drawing.
func (y LogYield) KeyOf(id string) string {
	for _, z := range y.Sizes {
		if z.ID == id {
			return z.Key
		}
	}
	return ""
}

// reckon sets experience, value and cost beside the drawing.
func (r *Room) reckon(ctx context.Context, y *LogYield, set house.Settings) error {
	var err error
	if y.Yields, err = r.Timber.LogYields(ctx, y.Log.SpeciesID); err != nil {
		return err
	}
	minM3, from, err := r.Timber.MillMinutes(ctx, set)
	if err != nil {
		return err
	}
	ratio := y.Yields.Believed()
	y.LikelyM3, y.LikelyMM = y.Out.SawnVolumeM3*ratio, y.DrawnMM*ratio
	y.SawingMin, y.MinutesFrom = int(math.Round(minM3*y.Out.LogVolumeM3)), from
	y.SawingMinor = int64(math.Round(float64(y.SawingMin) * float64(set.MillHourCostMinor) / 60))
	if y.Valued = y.valued(); y.Valued {
		y.ValueMinor = int64(math.Round(y.Out.Value * ratio))
	}
	return nil
}

// Expected is the yield as it is kept with a log that is sawn.
func (y LogYield) Expected() *timber.LogExpected {
	e := &timber.LogExpected{LogM3: y.Out.LogVolumeM3, M3: y.Out.SawnVolumeM3, Ratio: y.Yields.Believed(), Logs: y.Yields.Logs, Sizes: []timber.ExpectedSize{}}
	for _, z := range y.Sizes {
		e.Sizes = append(e.Sizes, timber.ExpectedSize{WidthMM: z.Dressed.WidthMM.InexactFloat64(), ThicknessMM: z.Dressed.ThicknessMM.InexactFloat64(),
			GreenWidthMM: z.Green.WidthMM.InexactFloat64(), GreenThicknessMM: z.Green.ThicknessMM.InexactFloat64(), Boards: z.Boards, TotalMM: z.TotalMM})
	}
	return e
}

// LogSaw books a sawing day with what the drawing promised, so that the two can be set
// side by side for ever. Boards of an expected green size are meant to dress to its dressed
// size. Errors: as for [timber.Room.LogSaw].
func (r *Room) LogSaw(ctx context.Context, id int64, version int, s timber.Sawing) (timber.Log, []timber.Pack, error) {
	g, err := r.Timber.LogGet(ctx, id)
	if err != nil {
		return g, nil, err
	}
	if g.Expected == nil {
		y, err := r.yieldOf(ctx, g, false)
		switch {
		case err == nil:
			s.Expected = y.Expected()
		case !fault.Is(err, fault.Conflict) && !fault.Is(err, fault.Invalid): // nothing is wanted of it, or it has no drawing
			return g, nil, err
		}
	}
	meant := s.Expected
	if meant == nil {
		meant = g.Expected
	}
	if meant != nil {
		for i := range s.Boards {
			if s.Boards[i].DressesTo == nil {
				s.Boards[i].DressesTo = dressesTo(*meant, s.Boards[i])
			}
		}
	}
	return r.Timber.LogSaw(ctx, id, version, s)
}

func dressesTo(e timber.LogExpected, b timber.SawnBoards) *timber.Size {
	for _, z := range e.Sizes {
		if b.WidthMM.Equal(decimal.NewFromFloat(z.GreenWidthMM)) && b.ThicknessMM.Equal(decimal.NewFromFloat(z.GreenThicknessMM)) {
			return &timber.Size{WidthMM: decimal.NewFromFloat(z.WidthMM), ThicknessMM: decimal.NewFromFloat(z.ThicknessMM)}
		}
	}
	return nil
}

// logCautions are the cautions of one log, the dearest first.
func logCautions(g timber.Log) []string {
	var out []string
	if g.MetalSuspected {
		out = append(out, "There may be metal in this log: no saw before a detector has gone over all of it, and what it finds is out.")
	}
	if g.HollowSuspected {
		out = append(out, "It may be hollow: the drawing knows nothing of that. Look in at both ends; a shell can fold or pinch the blade, and something may live in it.")
	}
	return append(out, fmt.Sprintf("It weighs about %.0f kg green: roll and lift it with tools or help, chock it, stand uphill of it.", math.Round(g.VolumeM3()*greenKgM3/10)*10),
		"Tension can throw or pinch a board, and a circular blade kicks back: guards on, nobody in line with blade or cut, the mill's own manual and local rules first.",
		"Green dust counts as dust: eyes, ears and lungs covered. Felling is for trained and licensed people.")
}
