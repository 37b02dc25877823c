package demo

import (
	"fmt"
	"slices"
	"time"

	"kerfbook/internal/answer"
	"kerfbook/internal/workshop"
)

// bench is the work under way.
type bench struct {
	going map[int64]time.Time // open builds and the day on which they will be done
}

// benchesMost is how many batches lie on the bench at once.
const benchesMost = 4

// benchDay starts new batches twice a week and lays the plan anew every other week.
func (w *world) benchDay() {
	if w.going == nil {
		w.going = map[int64]time.Time{}
	}
	if wd := w.day.Weekday(); wd != time.Monday && wd != time.Thursday {
		return
	}
	w.at(7, 40)
	started := 0
	for _, g := range w.toBuild() {
		if len(w.going) >= benchesMost || started == 2 {
			break
		}
		w.startBuild(g)
		started++
	}
	if started == 0 && len(w.going) < 2 && len(w.empties) < 14 {
		w.forShelf()
	}
}

// batch is boxes that are alike and wanted.
type batch struct {
	key   string
	rev   int64
	wood  int64
	opts  []int64
	units []int64
	due   time.Time
}

// toBuild gathers the units whose box is still to be built, the soonest promise first.
func (w *world) toBuild() []batch {
	var list []batch
	for _, o := range got(w.Sales.OpenUnits(w.ctx, false, 500)) {
		u, l := o.Unit, o.Line
		if l.Kind != "box" || u.BoxID != nil || u.BuildID != nil || l.ModelRevisionID == nil || l.TimberSpeciesID == nil || w.folk.due[u.ID] {
			continue
		}
		key := fmt.Sprint(*l.ModelRevisionID, *l.TimberSpeciesID, l.Options())
		i := slices.IndexFunc(list, func(b batch) bool { return b.key == key })
		if i < 0 {
			b := batch{key: key, rev: *l.ModelRevisionID, wood: *l.TimberSpeciesID, opts: l.Options(), due: w.day.AddDate(0, 0, 40)}
			if u.PromisedBoxOn != nil {
				b.due = *u.PromisedBoxOn
			}
			list = append(list, b)
			i = len(list) - 1
		}
		list[i].units = append(list[i].units, u.ID)
	}
	return list
}

// startBuild begins a batch for units, with one or two more for the shelf.
func (w *world) startBuild(b batch) {
	n := len(b.units)
	if len(b.opts) == 1 {
		n += w.between(1, 3)
	}
	due := b.due
	if floor := w.day.AddDate(0, 0, 12); due.Before(floor) {
		due = floor
	}
	w.work(got(w.Answer.BuildForUnits(w.ctx, answer.UnitsBuild{UnitIDs: b.units, Further: n - len(b.units), DueOn: &due})))
}

// forShelf builds some of the usual boxes ahead: for the shelf, and for splits to come.
func (w *world) forShelf() {
	k := w.kind()
	if len(k.options) > 1 {
		k = kinds[0]
	}
	w.work(got(w.Workshop.BuildMake(w.ctx, workshop.BuildNew{RevisionID: w.revs[k.model].ID, Quantity: w.between(5, 8), SpeciesID: w.woods[k.wood].ID, OptionIDs: w.optionIDs(k.options),
		DueOn: ptr(w.day.AddDate(0, 0, 21)), Notes: "For the shelf"})))
}

// work puts the boards aside and spreads the operations over the days to come.
func (w *world) work(b workshop.Build) {
	if len(b.Plans) > 0 {
		b = got(w.Workshop.CuttingAccept(w.ctx, b.ID))
	}
	days := 3 + int(b.StandardMin/300) + w.between(2, 5)
	if w.chance(0.08) {
		days += w.between(5, 12) // something came between
	}
	if w.ago() < 12 {
		days += 12 // everybody rings, and the saw has to wait
	}
	w.going[b.ID] = w.workday(w.day.AddDate(0, 0, days))
	tapped := b.Operations
	if n := len(tapped) - 2; b.ID%wholeDayEvery == 1 && n > 0 {
		w.in(1+(n+1)*(days-1)/(n+2), func() { w.wholeDay(b, b.Operations[n:]) })
		tapped = tapped[:n]
	}
	for i, op := range tapped {
		on := 1 + i*(days-1)/len(b.Operations)
		w.in(on, func() { w.operate(b, op) })
	}
	w.in(days, func() { w.finishBuild(b.ID) })
}

// wholeDayEvery: of so many builds the last day of one was not tapped, but written down in
// the evening.
const wholeDayEvery = 6

// wholeDay writes down in the evening what a day held.
func (w *world) wholeDay(b workshop.Build, ops []workshop.Operation) {
	at := w.at(16, 0)
	if !at.Before(w.Today) { // today is not over
		return
	}
	w.Clock.Set(at)
	e := got(w.Workshop.EveningGet(w.ctx, w.Owner, w.day))
	n, minutes := workshop.EveningNote{On: w.day}, e.TappedMin
	for _, op := range ops {
		minutes += op.StandardMin(b.Quantity) * (0.85 + 0.4*w.rng.Float64())
		n.DoneIDs = append(n.DoneIDs, op.ID)
	}
	n.Minutes = int(min(minutes, e.TappedMin+400))
	got(w.Workshop.EveningPut(w.ctx, w.Owner, n))
}

// operate spends the time of one operation and marks it done.
func (w *world) operate(b workshop.Build, op workshop.Operation) {
	who := w.Owner
	if op.Name == "sand" && w.chance(0.6) {
		who = w.Helper
	}
	minutes := op.StandardMin(b.Quantity) * (0.85 + 0.4*w.rng.Float64())
	from := w.at(8+w.rng.IntN(6), w.rng.IntN(50))
	to := from.Add(time.Duration(min(minutes, 400)) * time.Minute)
	if to.After(w.Today) {
		return
	}
	w.Clock.Set(to)
	got(w.Workshop.SpellAdd(w.ctx, op.ID, who, from, to))
	got(w.Workshop.OperationDone(w.ctx, op.ID, true, to))
}

// finishBuild ends a batch; now and then a piece is spoiled.
func (w *world) finishBuild(id int64) {
	at := w.at(16, 10)
	b := got(w.Workshop.BuildGet(w.ctx, id))
	f := workshop.Finish{BuildID: id, Version: b.Version, At: at, Place: "shelf"}
	if b.Quantity > 2 && w.chance(0.06) {
		f.Spoiled = []int{b.Quantity}
	}
	done := got(w.Workshop.BuildFinish(w.ctx, f))
	delete(w.going, id)
	for _, box := range done.Boxes {
		if box.ClaimedByUnitID == nil {
			w.shelve(shelved{id: box.ID, rev: b.RevisionID, wood: *b.SpeciesID, options: b.OptionIDs, cured: orZero(box.CuredOn)})
		}
	}
}

func orZero(t *time.Time) time.Time {
	if t == nil {
		return time.Time{}
	}
	return *t
}
