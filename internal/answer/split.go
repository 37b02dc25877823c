package answer

import (
	"context"
	"strings"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/apiary"
	"kerfbook/internal/fault"
	"kerfbook/internal/workshop"
)

// SplitMade is a split with the sections that went along.
type SplitMade struct {
	apiary.Splitting
	Sections []workshop.SectionStep // of the parent's box, that went into the split's box
	Exchange bool                   // what sat there came back into the parent's box
}

// SplitColony makes a new colony from part of another, and moves the sections it went
// with. Where its box stands at another site, the split went there, and the move stands in
// the movement record. Both logs and both boxes tell of the sections. Errors: as of
// apiary.Split; Invalid for sections of a parent that lives in no box, or that are not
// there by the book.
func (r *Room) SplitColony(ctx context.Context, s SplitMade) (child apiary.Colony, said []string, err error) {
	err = r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if s.At.IsZero() {
			s.At = r.db.Now()
		}
		if s.Parts, err = r.splitSections(ctx, tx, s); err != nil {
			return err
		}
		if child, err = r.Apiary.Split(ctx, s.Splitting); err != nil {
			return err
		}
		if said, err = r.meet(ctx, tx, s.BoxID, apiary.Move{ColonyID: child.ID, At: s.At, Note: "Split taken there in box ", InSpite: s.InSpite}); err != nil {
			return err
		}
		child, err = r.Apiary.ColonyGet(ctx, child.ID)
		return err
	})
	return child, said, err
}

// splitSections moves the sections of a split and words it for the logs.
func (r *Room) splitSections(ctx context.Context, tx pgx.Tx, s SplitMade) (string, error) {
	if len(s.Sections) == 0 {
		return "", nil
	}
	p, err := r.Apiary.ColonyGet(ctx, s.ParentID)
	if err != nil {
		return "", err
	}
	if p.BoxID == nil {
		return "", fault.Bad("/sections", "Colony %s lives in no box, so no sections of one can have gone.", p.Number)
	}
	into, err := r.Workshop.BoxGet(ctx, s.BoxID)
	if err != nil {
		return "", err
	}
	moved, err := r.Workshop.SectionsMoveTx(ctx, tx, workshop.SectionsMove{FromBoxID: *p.BoxID, ToBoxID: s.BoxID, Steps: s.Sections, Exchange: s.Exchange, At: s.At, Why: "split of " + p.Number})
	words := make([]string, len(moved))
	for i, m := range moved {
		words[i] = m.Words()
	}
	return "Of box " + text(p.BoxSerial) + " into box " + into.Serial + ": " + strings.Join(words, "; ") + ".", err
}
