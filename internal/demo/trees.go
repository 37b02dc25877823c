package demo

import (
	"time"

	"kerfbook/internal/answer"
	"kerfbook/internal/apiary"
	"kerfbook/internal/sales"
	"kerfbook/internal/workshop"
)

// hollows are the host trees: what they are called, where they stand, and how far north
// and east of the workshop, in hundredths of a degree.
var hollows = []struct {
	name, place, allowed string
	north, east          float64
}{
	{"Old blue gum behind the dip", "Harrow Hill, second gate, keep it shut", "Tamsin Orde, by word", 4, 3},
	{"Ironbark at the school gate", "Little Moran, left of the bus stop", "the school, by letter", 7, -2},
	{"Hollow bloodwood, ridge track", "Ridge track, 300 m past the trig point", "Parks office", 11, 6},
	{"Stump by the pump shed", "home yard", "own land", 0, 0},
	{"Leaning box at the ford", "Tin Kettle Creek, north bank", "Garrick Lowe, by word", -5, 4},
	{"Split spotted gum", "Saddle paddock, top corner", "own land", 2, -1},
	{"Tallowwood by the cricket ground", "Gully Flat, behind the nets", "the council, letter of March", -8, -6},
	{"Twin stringybark", "Orchard lane, end of the fence", "Petra Vance", -3, 9},
	{"Burnt bloodwood", "Ridge track, at the first bend", "Parks office", 10, 5},
	{"Red gum at the cattle grid", "Harrow Hill road", "Tamsin Orde, by word", 5, 4},
	{"Paperbark in the swale", "Little Moran, Nells' place", "Hedy Nell", 8, -3},
	{"Dead ironbark, eagle's nest above", "Saddle paddock, below the dam", "own land", 2, -2},
}

// hollow is a host tree as the maker has it in mind: how far its box is.
type hollow struct {
	id    int64
	stage int
}

// drawing is what the visits to a tree find, one after the other.
var drawing = []string{"passing", "wax", "brood", "ready"}

// openTrees puts down the permits and the host trees with their boxes.
func (w *world) openTrees() {
	home := Settings()
	take := got(w.Apiary.PermitPut(w.ctx, apiary.Permit{Number: "FT 2207", Authority: "Parks office", Kind: "take", Covers: "six hollow trees on the ridge, no felling", FromOn: ptr(w.last.AddDate(-1, 0, 20)), EndsOn: ptr(w.last.AddDate(0, 0, 19)), WarnDays: 30}))
	got(w.Apiary.PermitPut(w.ctx, apiary.Permit{Number: "BM 81", Authority: "Biosecurity", Kind: "move", Covers: "hives between the three shires", WarnDays: 30}))
	ended := got(w.Apiary.PermitPut(w.ctx, apiary.Permit{Number: "C 14", Authority: "Council", Kind: "land", Covers: "one tree at the cricket ground", EndsOn: ptr(w.last.AddDate(0, 0, -6)), WarnDays: 14}))
	for i, h := range hollows {
		t := apiary.HostTree{Name: h.name, Place: h.place, Permission: h.allowed, PermissionOn: ptr(w.first.AddDate(0, -2, i)), BeeSpeciesID: ptr(w.bees.kinds["carbonaria"].ID), BoxLeaves: i%5 != 3, Notes: "Box fixed on the hollow with a tube."}
		if i != 4 { // nobody has looked up where the ford lies
			t.Latitude, t.Longitude = ptr(*home.Latitude+h.north/100), ptr(*home.Longitude+h.east/100)
		}
		switch i {
		case 2, 8:
			t.PermitID = &take.ID
		case 6:
			t.PermitID = &ended.ID
		case 7:
			t.PermissionUntil = ptr(w.last.AddDate(0, 0, 11))
		}
		if i != 11 {
			b := got(w.Workshop.BoxRegister(w.ctx, workshop.BoxNew{RevisionID: ptr(w.revs["two-tier-230"].ID), Description: "Box for drawing", SpeciesID: ptr(w.woods["hoop-pine"].ID), FinishedAt: w.DB.Now().AddDate(0, -8, 0), Place: "the shed"}))
			t.BoxID, t.FixedOn = &b.ID, ptr(w.first.AddDate(0, 0, -10-3*i))
		}
		t = got(w.Answer.TreePut(w.ctx, t))
		w.trees = append(w.trees, t)
		x := &hollow{id: t.ID, stage: i % 3}
		if t.BoxID != nil {
			w.in(14+4*i, func() { w.visit(x) })
		}
	}
}

// visit goes to a host tree and notes what is found. Every fifth tree is forgotten after
// the first visit.
func (w *world) visit(x *hollow) {
	t := got(w.Apiary.HostTreeGet(w.ctx, x.id))
	if t.BoxID == nil {
		return
	}
	v := apiary.Visit{TreeID: x.id, HappenedAt: w.at(15, 0), Found: drawing[min(x.stage, len(drawing)-1)]}
	if x.stage == 1 {
		v.Seen = "The tube was loose, tightened."
	}
	ok(w.Answer.TreeVisit(w.ctx, v, nil))
	t = got(w.Apiary.HostTreeGet(w.ctx, x.id))
	if v.Found == "ready" {
		w.settleTree(t)
		return
	}
	x.stage++
	if x.id%5 != 0 && t.DueOn != nil {
		w.in(int(t.DueOn.Sub(w.day)/(24*time.Hour)), func() { w.visit(x) })
	}
}

// settleTree makes the bees in the box a colony of record; one in two is fetched a week
// later, the others wait.
func (w *world) settleTree(t apiary.HostTree) {
	c := got(w.Apiary.HostTreeSettle(w.ctx, apiary.TreeSettling{TreeID: t.ID, Version: t.Version, On: w.day, Sure: true}))
	if !t.BoxLeaves || t.ID%2 == 0 {
		return
	}
	w.in(7, func() {
		now := got(w.Apiary.HostTreeGet(w.ctx, t.ID))
		w.at(16, 30)
		got(w.Answer.TreeBoxAway(w.ctx, apiary.BoxAway{TreeID: t.ID, Version: now.Version, At: w.DB.Now(), Place: "home yard, north row"}))
		w.hives = append(w.hives, &kept{id: c.ID, species: "carbonaria", rested: w.day})
	})
}

// roundAhead is tomorrow's round to the trees that are due, and a drive with bees whose
// entrances are to be closed this evening.
func (w *world) roundAhead() {
	w.at(8, 30)
	tomorrow := w.workday(w.last.AddDate(0, 0, 1))
	got(w.Answer.RoundMake(w.ctx, answer.NewRound{On: tomorrow, WithinDays: ptr(14), Driver: "Pasco"}))
	unit, found := w.beesToGo()
	if !found {
		return
	}
	got(w.Answer.RunMake(w.ctx, answer.NewRun{On: tomorrow, UnitIDs: []int64{unit}, Driver: "Wren"}))
}

// beesToGo is a piece with bees for a buyer who has said where it is to stand: one that is
// put aside and on no run yet, else one ordered this morning.
func (w *world) beesToGo() (int64, bool) {
	for _, o := range got(w.Sales.OpenUnits(w.ctx, true, 500)) {
		if o.Unit.ColonyID != nil && w.buyerOf(o.PartyID).site != nil && got(w.Handover.StopOf(w.ctx, o.Unit.ID)) == nil {
			return o.Unit.ID, true
		}
	}
	for _, b := range w.people {
		if b.site == nil {
			continue
		}
		for _, h := range w.hives {
			if !h.settles.IsZero() || !w.ours(h) {
				continue
			}
			o := got(w.Answer.OrderMake(w.ctx, answer.NewOrder{NewOrder: sales.NewOrder{PartyID: b.party.ID, SiteID: &b.site.ID, Notes: "Has a box of his own."}, Wishes: []sales.Wish{{BeeSpeciesID: w.bees.kinds[h.species].ID}}}))
			u := o.Order.Lines[0].Units[0]
			if u.ColonyID == nil {
				ok(w.Answer.ColonyPutAside(w.ctx, u.ID, h.id))
			}
			return u.ID, true
		}
	}
	return 0, false
}
