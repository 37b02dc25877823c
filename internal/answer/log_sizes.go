package answer

import (
	"context"

	"kerfbook/internal/fault"
	"kerfbook/internal/timber"
)

// SizeQuestion asks what to saw for a dressed size, or what a green size dresses to: one
// of the two is given. What is nil is the workshop's own.
type SizeQuestion struct {
	SpeciesID int64
	Dressed   *timber.Size
	Green     *timber.Size
	Change    func(*timber.Allowance) // figures that differ from the workshop's; nil: none
}

// SizeAnswer is a green size and the size it dresses to, with the figures it is from.
type SizeAnswer struct {
	Green         timber.Size
	Dressed       timber.Size // of a green size: the largest that is sure; of a dressed one: as asked
	Sure          timber.Size // what the green size is sure to dress to
	Allowance     timber.Allowance
	ShrinkagePct  float64 // from green to ShrinkageToPct
	ShrinkageToMC float64
	Known         bool // the timber's shrinkage is in the book; else our estimate stands
}

// Allowance gives the workshop's own figures of sawing.
func (r *Room) Allowance(ctx context.Context) (timber.Allowance, error) {
	set, _, err := r.settings(ctx)
	return timber.AllowanceOf(set), err
}

// Sizes answers a size question. Errors: Invalid.
func (r *Room) Sizes(ctx context.Context, q SizeQuestion) (SizeAnswer, error) {
	a, err := r.Allowance(ctx)
	if err != nil {
		return SizeAnswer{}, err
	}
	if q.Change != nil {
		q.Change(&a)
	}
	sp, err := r.Timber.SpeciesGet(ctx, q.SpeciesID)
	if fault.Is(err, fault.NotFound) {
		return SizeAnswer{}, fault.Bad("/species_id", "Choose a timber that is in the book.")
	}
	if err != nil {
		return SizeAnswer{}, err
	}
	out := SizeAnswer{Allowance: a}
	out.ShrinkagePct, out.ShrinkageToMC, out.Known = sp.Shrinkage(a.Grain)
	switch {
	case q.Dressed != nil && q.Green == nil:
		out.Dressed = *q.Dressed
		out.Green, err = sp.GreenSize(ctx, *q.Dressed, a)
	case q.Green != nil && q.Dressed == nil:
		out.Green = *q.Green
	default:
		return out, fault.Bad("/dressed", "Give a dressed size or a green one, not both.")
	}
	if err != nil {
		return out, err
	}
	if out.Sure, err = sp.DressedSize(out.Green, a); err == nil && q.Green != nil {
		out.Dressed = out.Sure
	}
	return out, err
}
