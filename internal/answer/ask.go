package answer

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"kerfbook/internal/calc/hive"
	"kerfbook/internal/fault"
	"kerfbook/internal/sales"
	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

// working is one answer being worked out.
type working struct {
	facts
	q   Question
	out Answer
	n   int // pieces wanted

	fresh   int // boxes that must be built anew
	needs   Needs
	timber  step // when the boards are there
	fitting step // when the fittings are there

	freshParts map[string]step           // of the boxes that are built anew
	buildParts map[int64]map[string]step // of the boxes of builds under way
}

func (w *working) say(part, format string, args ...any) {
	w.out.Reasons = append(w.out.Reasons, Reason{Part: part, Text: fmt.Sprintf(format, args...)})
}

func (w *working) saySelf(r Reason) { w.out.Reasons = append(w.out.Reasons, r) }

func (w *working) short(part, format string, args ...any) {
	w.out.Reasons = append(w.out.Reasons, Reason{Part: part, Text: fmt.Sprintf(format, args...), Short: true})
}

// Ask answers how much and when: from the shelf first, then from builds under way, then
// from new work. It writes nothing. What the book does not hold is said in the reasons.
// Errors: Invalid for a wish that cannot be, NotFound for a party or site that is not there.
func (r *Room) Ask(ctx context.Context, q Question) (Answer, error) {
	if err := q.check(); err != nil {
		return Answer{}, err
	}
	w := &working{q: q, n: q.Wish.Pieces(), buildParts: map[int64]map[string]step{}}
	w.out = Answer{Question: q, Reasons: []Reason{}, Units: []UnitDate{}, Lines: []sales.Line{}, Cost: []CostLine{}, PriceParts: []PricePart{}}
	known, err := r.read(ctx, w)
	if err != nil || !known {
		return w.out, err
	}
	w.out.AsOf, w.out.Registered, w.out.TaxName = w.day, w.tax.Registered, w.tax.Name
	for i := range w.n {
		w.out.Units = append(w.out.Units, UnitDate{N: i + 1})
	}
	if w.rev != nil {
		if err := w.boxes(ctx); err != nil {
			return w.out, err
		}
		if err := w.boxDates(ctx); err != nil {
			return w.out, err
		}
	}
	if w.bees != nil {
		if err := w.colonyDates(ctx); err != nil {
			return w.out, err
		}
	}
	if err := w.price(ctx); err != nil {
		return w.out, err
	}
	w.sum()
	return w.out, nil
}

// boxes fills the units from the shelf, then from builds under way; what is left is
// built anew.
func (w *working) boxes(ctx context.Context) error {
	at := 0
	var serials []string
	for _, b := range w.shelf {
		if at == w.n {
			break
		}
		u := &w.out.Units[at]
		u.From, u.BoxID, u.Serial = FromShelf, b.BoxID, b.Serial
		u.BoxOn = ptr(w.day)
		if b.CuredOn != nil && b.CuredOn.After(w.day) {
			u.BoxOn = b.CuredOn
			w.say(PartFinish, "Box %s cures until %s.", b.Serial, show.Date(*b.CuredOn))
		}
		if w.q.Wish.WithColony && b.ColonyID != nil {
			u.ColonyID = *b.ColonyID
		}
		serials = append(serials, b.Serial)
		w.needs.Shelf = append(w.needs.Shelf, b.BoxID)
		at++
	}
	if len(serials) > 0 {
		w.say(PartShelf, "%s: %s.", stands(len(serials)), strings.Join(serials, ", "))
	} else {
		w.say(PartShelf, "None of this model%s stands free on the shelf.", w.like())
	}
	for _, s := range w.heldSerials {
		w.say(PartShelf, "%s", s)
	}
	var from []string
	for _, o := range w.outputs {
		if at == w.n {
			break
		}
		u := &w.out.Units[at]
		u.From, u.BuildID, u.Build, u.Output = FromBuild, o.BuildID, o.Number, o.N
		if !slices.Contains(from, o.Number) {
			from = append(from, o.Number)
		}
		w.needs.Outputs = append(w.needs.Outputs, OutputNeed{o.BuildID, o.N})
		at++
	}
	if len(from) > 0 {
		w.say(PartBench, "%s from work under way: %s.", show.Count(int64(len(w.needs.Outputs)), "box comes", "boxes come"), strings.Join(from, ", "))
	}
	w.fresh = w.n - at
	for ; at < w.n; at++ {
		w.out.Units[at].From = FromNew
	}
	return w.plan(ctx)
}

func stands(n int) string {
	switch n {
	case 1:
		return "One box of this model stands on the shelf"
	case 2:
		return "Two boxes of this model stand on the shelf"
	}
	return fmt.Sprintf("%d boxes of this model stand on the shelf", n)
}

// like says what of the wish narrows the search on the shelf.
func (w *working) like() string {
	if w.species == nil || w.q.Wish.TimberID == 0 {
		return ""
	}
	return " in " + strings.ToLower(w.species.Name)
}

// chosenModel is the model with its options built in.
func chosenModel(rev workshop.Revision, options []workshop.Option) (hive.Model, error) {
	m, err := workshop.Compose(rev, options)
	if err != nil && fault.KindOf(err) == fault.Invalid {
		return m, fault.Bad("/wish/option_ids", "%s", sentence(err))
	}
	return m, err
}

// sentence is what an error says to a person.
func sentence(err error) string {
	var e *fault.Error
	if asFault(err, &e) {
		return e.Detail
	}
	return err.Error()
}
