package demo

import (
	"slices"

	"kerfbook/internal/answer"
	"kerfbook/internal/apiary"
	"kerfbook/internal/sales"
	"kerfbook/internal/workshop"
)

// keepings are hives and boxes of others that are here: one is due tomorrow, and of one the
// split stays here as agreed.
func (w *world) keepings() {
	w.at(8, 25)
	owner := func(name, number, town string) int64 {
		return got(w.Sales.PartyPut(w.ctx, sales.Party{Name: name, Town: town, Contacts: []sales.Contact{{Kind: "phone", Value: number}}})).ID
	}
	hives := owner("Zephyrine Oake", "07 5550 0381", "Harrow Hill")
	k := got(w.Answer.TakeIn(w.ctx, answer.TakenIn{PartyID: hives, SpeciesID: w.bees.kinds["carbonaria"].ID, SpeciesSure: true, Description: "blue log hive with a tin roof", Place: "home yard, apart by the dam", CameAt: w.DB.Now().AddDate(0, 0, -19),
		KeepingTerms: apiary.KeepingTerms{Purpose: "split", Agreed: "One split; it stays here for the work. New cleats on the roof.", BackOn: ptr(w.last.AddDate(0, 0, 1))}}))
	if box, found := w.emptyBox(); found {
		c, _, err := w.Answer.SplitColony(w.ctx, answer.SplitMade{Splitting: apiary.Splitting{ParentID: *k.ColonyID, BoxID: box, At: w.DB.Now().AddDate(0, 0, -12)}})
		ok(err)
		half := got(w.Apiary.KeepingOf(w.ctx, c.ID, 0))
		got(w.Answer.KeepingEnd(w.ctx, half.ID, answer.KeepingOver{How: "kept", Note: "the split for the work, as agreed"}))
	}
	got(w.Answer.TakeIn(w.ctx, answer.TakenIn{PartyID: owner("Barnaby Thrupp", "07 5550 0382", "Little Moran"), Description: "two-tier box with a split wall", Place: "bench, left end", CameAt: w.DB.Now().AddDate(0, 0, -4),
		KeepingTerms: apiary.KeepingTerms{Purpose: "repair", Agreed: "New brood side, same oil.", PriceMinor: ptr(int64(6500)), BackOn: ptr(w.last.AddDate(0, 0, 9))}}))
	minded := got(w.Answer.TakeIn(w.ctx, answer.TakenIn{PartyID: hives, SpeciesID: w.bees.kinds["hockingsi"].ID, Description: "her veranda hive", Place: "home yard, apart by the dam", CameAt: w.DB.Now().AddDate(0, 0, -60),
		KeepingTerms: apiary.KeepingTerms{Purpose: "minding", Agreed: "While the veranda is painted."}}))
	got(w.Answer.KeepingEnd(w.ctx, minded.ID, answer.KeepingOver{How: "back", At: w.DB.Now().AddDate(0, 0, -31), Place: "her veranda, Harrow Hill", Note: "fetched in the evening"}))
}

// family is an old colony with a line of its own, and one that is held back.
func (w *world) family() {
	w.at(8, 35)
	free := slices.DeleteFunc(slices.Clone(w.hives), func(h *kept) bool { return !h.settles.IsZero() || !w.ours(h) })
	if len(free) < 4 {
		return
	}
	old := got(w.Apiary.ColonyMake(w.ctx, apiary.NewColony{Name: "The old ironbark", SpeciesID: w.bees.kinds["carbonaria"].ID, SpeciesSure: true, FoundBy: "entrance and brood seen", BeganAbout: "about 1961", HousedAbout: "about 1961", Dwelling: "log", Description: "ironbark log, 900 mm",
		Origin: "Drawn from the tree that stood where the dam is; grandfather's own land.", Place: "home yard, under the pepper tree", SettledOn: ptr(w.first)}))
	ok(w.Apiary.KeepToSplit(w.ctx, old.ID, ptr(true)))
	got(w.Apiary.EventNote(w.ctx, apiary.Event{ColonyID: old.ID, Kind: "note", HappenedAbout: "about 1974", Note: "The flood stood to the entrance; they came through."}))
	ok(w.Apiary.BroodGive(w.ctx, apiary.Joining{FromID: old.ID, ToID: free[0].id, About: "about 2019", Note: "Two fingers of brood, to strengthen it."}))
	ok(w.Apiary.Unite(w.ctx, apiary.Joining{FromID: free[1].id, ToID: free[0].id, Note: "Weak after the heat."}))
	ok(w.Apiary.HoldBack(w.ctx, free[2].id, "larvae of the hive beetle seen; looked at again on Saturday"))
}

// wentAlong are the sections of a mother's box that went into the box of its split: the
// uppermost brood, where both boxes are of one drawing.
func (w *world) wentAlong(mother, box int64) []workshop.SectionStep {
	c := got(w.Apiary.ColonyGet(w.ctx, mother))
	if c.BoxID == nil {
		return nil
	}
	from, into := got(w.Workshop.BoxGet(w.ctx, *c.BoxID)), got(w.Workshop.BoxGet(w.ctx, box))
	serial := got(w.Workshop.SerialPlace(w.ctx, from))
	if from.RevisionID == nil || into.RevisionID == nil || *from.RevisionID != *into.RevisionID {
		return nil
	}
	for _, z := range slices.Backward(from.Sections) {
		if z.ToAt == nil && z.Section == "brood" && z.Place != serial {
			return []workshop.SectionStep{{Place: z.Place}}
		}
	}
	return nil
}
