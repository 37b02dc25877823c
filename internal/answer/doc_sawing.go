package answer

import (
	"context"
	"errors"
	"fmt"
	"math"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/paper"
	"kerfbook/internal/show"
)

// SawingCard draws the card for the mill: which boards of the sizes wanted lie in a log,
// the saw heights, and each row's boards. Conflict when nothing is wanted, or the log holds
// no such board or cannot be laid out.
func (r *Room) SawingCard(ctx context.Context, logID int64) ([]byte, error) {
	g, err := r.Timber.LogGet(ctx, logID)
	if err != nil {
		return nil, err
	}
	y, err := r.yieldOf(ctx, g, false)
	var wrong *fault.Error
	if errors.As(err, &wrong) && wrong.Kind == fault.Invalid {
		return nil, fault.Wrap(err, fault.Conflict, "Log %s has no card. %s", g.Number, wrong.Detail)
	}
	if err != nil {
		return nil, err
	}
	if len(y.Out.Layout) == 0 {
		return nil, fault.New(fault.Conflict, "Log %s holds none of the boards that are wanted of it.", g.Number)
	}
	set, _, err := r.settings(ctx)
	if err != nil {
		return nil, err
	}
	head := r.head(set, house.TaxState{}, g.Number, r.db.Now())
	head.Words = r.wording(ctx, g.Number)
	return paper.Sawing(sawingDoc(y, set, head))
}

func sawingDoc(y LogYield, set house.Settings, head paper.Head) paper.SawingDoc {
	g, out := y.Log, y.Out
	d := paper.SawingDoc{Head: head, Log: g.Number, Species: g.SpeciesName, SmallEndMM: g.SmallEndMM.InexactFloat64(), LargeEndMM: g.LargeEndMM.InexactFloat64(), LengthMM: g.LengthMM.InexactFloat64(),
		SweepMM: g.SweepMM.InexactFloat64(), KerfMM: y.KerfMM, HeartBoxMM: y.HeartBoxMM, PithAboveMM: math.Round(g.LargeEndMM.InexactFloat64() / 2), From: g.FromWhere, Felled: show.DateOr(g.FelledOn, ""),
		Recovery: fmt.Sprintf("%.0f %%, %.1f m of boards", out.RecoveryPct, y.DrawnMM/1000), Note: g.Notes}
	for _, b := range out.Layout {
		d.Boards = append(d.Boards, paper.SawnBoard{Key: y.KeyOf(b.ID), Name: b.ID, X: b.XMM, Y: b.YMM, WidthMM: b.WidthMM, ThicknessMM: b.ThicknessMM, LengthMM: b.LengthMM, FromButtMM: b.FromButtMM})
	}
	for _, h := range out.SawHeightsMM {
		d.SawHeights = append(d.SawHeights, paper.SawHeight{FromPithMM: h})
	}
	if !out.FitsMill {
		d.Warnings = append(d.Warnings, "The log is thicker than the mill takes: cut it to length first.")
	}
	if g.MetalSuspected {
		d.Warnings = append(d.Warnings, "There may be metal in it. No saw before a detector.")
	}
	if g.HollowSuspected {
		d.Warnings = append(d.Warnings, "It may be hollow. Look in at both ends first.")
	}
	if y.MillBy != nil {
		d.MillBy = show.Date(*y.MillBy)
	}
	return d
}
