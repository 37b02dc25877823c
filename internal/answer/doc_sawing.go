package answer

import (
	"context"
	"errors"
	"fmt"

	"github.com/shopspring/decimal"

	"kerfbook/internal/calc/contract"
	"kerfbook/internal/calc/hive"
	"kerfbook/internal/calc/sawing"
	"kerfbook/internal/calc/wood"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/paper"
	"kerfbook/internal/show"
	"kerfbook/internal/timber"
)

// What a green board is sawn larger by than it is dressed to, and what an unknown timber
// is reckoned to shrink; our estimates.
const (
	planingMM        = 4.0  // both faces together
	sawVariationMM   = 1.0  // how far below its mark a board may come off the mill
	dryTargetPct     = 12.0 // moisture at which boards are dressed
	unknownShrinkPct = 7.0  // from green to 12 %
	sawingSizes      = 12   // board sizes that are looked for in one log
	shortBoardMM     = 900.0
)

// SawingCard draws the card for the mill: which boards of the sizes that the models in
// use take lie in a log, and the saw heights. Conflict when no model is drawn up, or the
// log holds no such board.
func (r *Room) SawingCard(ctx context.Context, logID int64) ([]byte, error) {
	g, err := r.Timber.LogGet(ctx, logID)
	if err != nil {
		return nil, err
	}
	set, _, err := r.settings(ctx)
	if err != nil {
		return nil, err
	}
	boards, err := r.greenBoards(ctx, g)
	if err != nil {
		return nil, err
	}
	limit := set.MillLimitMM.InexactFloat64()
	out, err := sawing.Pattern(ctx, sawing.PatternIn{SmallEndMM: g.SmallEndMM.InexactFloat64(), LargeEndMM: g.LargeEndMM.InexactFloat64(), LengthMM: g.LengthMM.InexactFloat64(),
		KerfMM: set.MillKerfMM.InexactFloat64(), MillLimitMM: &limit, SweepMM: g.SweepMM.InexactFloat64(), Boards: boards})
	var bad *contract.Error
	if errors.As(err, &bad) {
		return nil, fault.Wrap(err, fault.Conflict, "This log cannot be laid out: %s.", bad.Error())
	}
	if err != nil {
		return nil, err
	}
	if len(out.Layout) == 0 {
		return nil, fault.New(fault.Conflict, "Log %s holds none of the boards that the models in use take.", g.Number)
	}
	return paper.Sawing(sawingDoc(g, out, set, r.head(set, house.TaxState{}, g.Number, r.db.Now())))
}

func sawingDoc(g timber.Log, out sawing.PatternOut, set house.Settings, head paper.Head) paper.SawingDoc {
	d := paper.SawingDoc{Head: head, Log: g.Number, Species: g.SpeciesName, SmallEndMM: g.SmallEndMM.InexactFloat64(), LargeEndMM: g.LargeEndMM.InexactFloat64(), LengthMM: g.LengthMM.InexactFloat64(),
		KerfMM: set.MillKerfMM.InexactFloat64(), Recovery: fmt.Sprintf("%.0f %%", out.RecoveryPct), Note: g.Notes}
	for _, b := range out.Layout {
		d.Boards = append(d.Boards, paper.SawnBoard{Name: b.ID, X: b.XMM, Y: b.YMM, WidthMM: b.WidthMM, ThicknessMM: b.ThicknessMM, LengthMM: b.LengthMM, FromButtMM: b.FromButtMM})
	}
	for _, h := range out.SawHeightsMM {
		d.SawHeights = append(d.SawHeights, paper.SawHeight{FromPithMM: h})
	}
	if !out.FitsMill {
		d.Note = joinNote(d.Note, "The log is thicker than the mill takes.")
	}
	if g.MetalSuspected {
		d.Note = joinNote(d.Note, "There may be metal in it.")
	}
	return d
}

func joinNote(a, b string) string {
	if a == "" {
		return b
	}
	return a + " " + b
}

// greenBoards gives the board sizes of the models in use as they must be sawn from g: the
// dressed size, planing, shrinkage and the saw's variation. A metre is worth its section.
func (r *Room) greenBoards(ctx context.Context, g timber.Log) ([]sawing.BoardIn, error) {
	sp, err := r.Timber.SpeciesGet(ctx, g.SpeciesID)
	if err != nil {
		return nil, err
	}
	models, err := r.Workshop.ModelList(ctx, false)
	if err != nil {
		return nil, err
	}
	seen := map[hive.BoardSize]bool{}
	boards := []sawing.BoardIn{}
	for _, m := range models {
		if m.LatestID == nil {
			continue
		}
		rev, err := r.Workshop.RevisionGet(ctx, *m.LatestID)
		if err != nil {
			return nil, err
		}
		for _, p := range rev.Body.Parts {
			if seen[p.BoardSize] || len(boards) == sawingSizes {
				continue
			}
			seen[p.BoardSize] = true
			b, err := greenBoard(ctx, sp, p.BoardSize, g.LengthMM.InexactFloat64())
			if err != nil {
				return nil, err
			}
			boards = append(boards, b)
		}
	}
	if len(boards) == 0 {
		return nil, fault.New(fault.Conflict, "Draw up a model first: its board sizes say what to saw.")
	}
	return boards, nil
}

func greenBoard(ctx context.Context, sp timber.Species, size hive.BoardSize, lengthMM float64) (sawing.BoardIn, error) {
	total, to := unknownShrinkPct, dryTargetPct
	if sp.TangentialPct != nil { // the larger of the two, whichever way the board lies
		total, to = sp.TangentialPct.InexactFloat64(), sp.ShrinkageToMCPct.InexactFloat64()
	}
	saw := func(dressed float64) (float64, error) {
		out, err := wood.SawnSize(ctx, wood.SawnSizeIn{DressedMM: dressed, PlaningMM: planingMM, ToMCPct: dryTargetPct, TotalShrinkagePct: &total, ShrinkageToMCPct: &to, SawVariationMM: sawVariationMM})
		return out.SawnMM, err
	}
	width, err := saw(size.WidthMM)
	if err != nil {
		return sawing.BoardIn{}, err
	}
	thickness, err := saw(size.ThicknessMM)
	short := min(shortBoardMM, lengthMM)
	name := show.BoardSize(decimal.NewFromFloat(size.WidthMM), decimal.NewFromFloat(size.ThicknessMM))
	return sawing.BoardIn{ID: name, WidthMM: width, ThicknessMM: thickness, Value: size.WidthMM * size.ThicknessMM / 2800, MinLengthMM: &short}, err
}
