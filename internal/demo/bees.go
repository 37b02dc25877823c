package demo

import (
	"slices"
	"time"

	"kerfbook/internal/answer"
	"kerfbook/internal/apiary"
	"kerfbook/internal/sales"
	"kerfbook/internal/workshop"
)

// bees is the apiary as the maker has it in mind.
type bees struct {
	kinds   map[string]apiary.Species
	hives   []*kept
	empties []shelved // boxes that can take a split or be sold as they are
	trees   []apiary.HostTree
}

// kept is a colony of the workshop as the maker has it in mind.
type kept struct {
	id      int64
	species string
	rested  time.Time // since when it has not been split
	settles time.Time // zero: settled
}

// openBees are the kinds of bees, the colonies kept since before the book, the host trees,
// and their prices.
func (w *world) openBees() {
	w.bees.kinds = map[string]apiary.Species{}
	price := map[string]int64{"carbonaria": 350, "hockingsi": 360, "australis": 420}
	for _, s := range apiary.StandardSpecies() {
		s = got(w.Apiary.SpeciesPut(w.ctx, s))
		w.bees.kinds[s.Code] = s
		w.setPrice(sales.Subject("colony", s.ID), price[s.Code], "")
	}
	for i := range 76 {
		species := "carbonaria"
		switch {
		case i%7 == 3:
			species = "hockingsi"
		case i%9 == 4:
			species = "australis"
		}
		w.oldColony(i, species)
	}
	w.openTrees()
}

// oldColony is one of those kept since before the book was begun.
func (w *world) oldColony(i int, species string) {
	began := w.first.AddDate(0, 0, -w.between(300, 2600))
	n := apiary.NewColony{BeganOn: &began, Origin: pick(w, []string{"Drawn from a tree that was felled for the road", "Split, kept since", "Came with a log from Harrow Hill", "Given by a keeper who moved away"}),
		SpeciesID: w.bees.kinds[species].ID, SpeciesSure: i%6 != 5, FoundBy: "entrance and brood seen", HousedAt: w.DB.Now(), Place: pick(w, []string{"home yard, north row", "home yard, creek row", "Saddle paddock"}),
		SettledOn: ptr(w.first)}
	if i%11 == 10 {
		n.BeganOn, n.BeganAbout = nil, "about 1998"
	}
	h := &kept{species: species, rested: w.first.AddDate(0, 0, -w.between(30, 640))}
	if i%9 == 8 {
		n.Dwelling, n.Description = "log", "hollow log, 700 mm"
	} else {
		b := got(w.Workshop.BoxRegister(w.ctx, workshop.BoxNew{RevisionID: ptr(w.revs["two-tier-230"].ID), Description: "Mother box", SpeciesID: ptr(w.woods["hoop-pine"].ID), FinishedAt: w.DB.Now().AddDate(0, 0, -w.between(400, 1500)), Place: n.Place}))
		n.BoxID = &b.ID
	}
	h.id = got(w.Apiary.ColonyMake(w.ctx, n)).ID
	w.hives = append(w.hives, h)
}

// shelved is an empty box on the shelf; one that bees have lived in has no more than an id.
type shelved struct {
	id, rev, wood int64
	options       []int64
	cured         time.Time
}

// shelve notes an empty box that can take a split or be sold as it is.
func (w *world) shelve(b shelved) { w.empties = append(w.empties, b) }

// beesDay splits in season, sees who has settled, and looks at hives.
func (w *world) beesDay() {
	w.at(9, 0)
	switch w.day.Weekday() {
	case time.Saturday:
		if m := w.day.Month(); m >= 9 || m <= 3 {
			w.split()
		}
	case time.Tuesday:
		w.settle()
	case time.Friday:
		w.look()
	}
}

// split divides one or two colonies that have had their rest, into boxes of the shelf.
func (w *world) split() {
	done := 0
	for _, h := range slices.Clone(w.hives) {
		if done == 2 {
			return
		}
		if !h.settles.IsZero() || w.day.Sub(h.rested) < 430*24*time.Hour || w.chance(0.25) || !w.ours(h) {
			continue
		}
		box, found := w.emptyBox()
		if !found {
			return
		}
		at := w.at(10+done, 20)
		c, _, err := w.Answer.SplitColony(w.ctx, answer.SplitMade{Splitting: apiary.Splitting{ParentID: h.id, BoxID: box, At: at}, Sections: w.wentAlong(h.id, box), Exchange: true})
		ok(err)
		h.rested = w.day
		w.hives = append(w.hives, &kept{id: c.ID, species: h.species, rested: w.day, settles: w.day.AddDate(0, 0, w.between(62, 90))})
		done++
	}
}

// ours reports whether a colony is still the workshop's and promised to nobody.
func (w *world) ours(h *kept) bool {
	c := got(w.Apiary.ColonyGet(w.ctx, h.id))
	if !c.Ours() || c.EndedAt != nil {
		w.hives = slices.DeleteFunc(w.hives, func(x *kept) bool { return x == h })
		return false
	}
	return c.UnitID == nil
}

// emptyBox gives a box of the shelf that nobody has claimed and that is cured.
func (w *world) emptyBox() (int64, bool) {
	for i, b := range w.empties {
		if b.cured.After(w.day) {
			continue
		}
		if w.boxFree(b.id) {
			w.empties = append(w.empties[:i:i], w.empties[i+1:]...)
			return b.id, true
		}
	}
	return 0, false
}

// boxFree reports whether a box is the workshop's, empty and promised to nobody.
func (w *world) boxFree(id int64) bool {
	b := got(w.Workshop.BoxGet(w.ctx, id))
	return b.Ours && b.ClaimedByUnitID == nil && b.ColonyID == nil && b.GoneAt == nil
}

// settle notes the splits that are seen settled; some are lost.
func (w *world) settle() {
	for _, h := range slices.Clone(w.hives) {
		if h.settles.IsZero() || h.settles.After(w.day) {
			continue
		}
		if w.chance(0.1) {
			box := got(w.Apiary.ColonyGet(w.ctx, h.id)).BoxID
			ok(w.Apiary.End(w.ctx, h.id, pick(w, []string{"queen did not take, dwindled", "small hive beetle", "overheated in the week of 41 degrees", "robbed out"}), w.DB.Now()))
			w.shelve(shelved{id: *box})
			w.hives = slices.DeleteFunc(w.hives, func(x *kept) bool { return x == h })
			continue
		}
		ok(w.Apiary.Settle(w.ctx, h.id, w.day))
		h.settles = time.Time{}
	}
}

// look weighs or inspects a hive or two.
func (w *world) look() {
	for range 2 {
		h := pick(w, w.hives)
		e := apiary.Event{ColonyID: h.id, Kind: "inspected", HappenedAt: w.DB.Now(), Note: pick(w, []string{"Strong, three fingers of brood", "Quiet, pots full", "Resin at the entrance, all well", "Flying from 18 degrees"})}
		if w.chance(0.4) {
			e.Kind, e.MassKG, e.Note = "weighed", ptr(float64(70+w.rng.IntN(60))/10), ""
		}
		got(w.Apiary.EventNote(w.ctx, e))
	}
}

// giveColonies matches settled colonies to the units that wait, in the order of the line.
func (w *world) giveColonies(open []sales.OpenUnit) {
	for i, o := range open {
		u := o.Unit
		if u.WantsColony && u.ColonyID == nil && o.Line.BeeSpeciesID != nil && (u.OwnBox || !u.WantsBox || u.BoxID != nil) && w.giveColony(o) {
			open[i].Unit = got(w.Sales.UnitGet(w.ctx, u.ID))
		}
	}
}

func (w *world) giveColony(o sales.OpenUnit) bool {
	for _, h := range slices.Clone(w.hives) {
		if !h.settles.IsZero() || w.bees.kinds[h.species].ID != *o.Line.BeeSpeciesID || w.day.Sub(h.rested) > 700*24*time.Hour || !w.ours(h) {
			continue
		}
		w.at(17, 0)
		if u := o.Unit; !u.OwnBox && u.BoxID != nil && !w.house(h.id, *u.BoxID) {
			return false
		}
		ok(w.Answer.ColonyPutAside(w.ctx, o.Unit.ID, h.id))
		return true
	}
	return false
}

// house moves a colony into a box once that is cured; false while it is not.
func (w *world) house(colony, box int64) bool {
	c := got(w.Apiary.ColonyGet(w.ctx, colony))
	if c.BoxID != nil && *c.BoxID == box {
		return true
	}
	b := got(w.Workshop.BoxGet(w.ctx, box))
	if b.CuredOn != nil && b.CuredOn.After(w.day) || b.ColonyID != nil {
		return false
	}
	got(w.Answer.HouseColony(w.ctx, apiary.Housing{ColonyID: colony, BoxID: &box}))
	if c.BoxID != nil {
		w.shelve(shelved{id: *c.BoxID})
	}
	return true
}

// toOwnBox moves a colony into the box its buyer has brought.
func (w *world) toOwnBox(colony int64) {
	c := got(w.Apiary.ColonyGet(w.ctx, colony))
	if c.BoxID != nil {
		got(w.Answer.HouseColony(w.ctx, apiary.Housing{ColonyID: colony, Dwelling: "other", Description: "a box of the buyer's own"}))
		w.shelve(shelved{id: *c.BoxID})
	}
}
