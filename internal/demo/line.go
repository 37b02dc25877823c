package demo

import (
	"time"

	"kerfbook/internal/answer"
	"kerfbook/internal/apiary"
	"kerfbook/internal/books"
	"kerfbook/internal/sales"
)

// lineDays is since when colonies are given by the proposal of the line.
const lineDays = 45

// giveByLine takes what the line proposes, of colonies that need no other box first.
func (w *world) giveByLine() {
	for _, code := range []string{"carbonaria", "hockingsi", "australis"} {
		species := w.bees.kinds[code].ID
		var pairs []answer.LinePair
		for _, p := range got(w.Answer.LinePropose(w.ctx, species)) {
			if p.HouseFirst == "" && !p.Unsure && p.OutOfRange == "" {
				pairs = append(pairs, answer.LinePair{UnitID: p.UnitID, ColonyID: p.ColonyID})
			}
		}
		if len(pairs) > 0 {
			got(w.Answer.LineAccept(w.ctx, species, pairs))
		}
	}
}

// beeLine lets buyers stand in the line for the rarest kind, more of them than there are
// colonies: one from where it does not live, one who was moved with a reason.
func (w *world) beeLine() {
	kind := w.bees.kinds["australis"]
	w.keepMothers(kind.ID)
	ready := 0
	for _, l := range got(w.Answer.Lines(w.ctx)) {
		if l.SpeciesID == kind.ID {
			ready = l.Ready - l.Waiting
		}
	}
	var units []int64
	for i := range min(max(ready, 0)+4, 9) {
		units = append(units, w.waitFor(kind, i))
	}
	w.at(9, 10)
	last := len(units) - 1
	ok(w.Answer.LineMove(w.ctx, kind.ID, units[last], &units[last-1], "their old colony died in the heat; the one before agreed on the telephone"))
}

// keepMothers keeps two settled colonies of a kind to be split.
func (w *world) keepMothers(species int64) {
	kept := 0
	list, _, err := w.Apiary.ColonyList(w.ctx, apiary.ColonyFilter{Living: true, OursOnly: true, Unclaimed: true, SpeciesID: species, Limit: 60})
	ok(err)
	for _, c := range list {
		if kept < 2 && c.Ready(w.day) && !c.Kept {
			ok(w.Apiary.KeepToSplit(w.ctx, c.ID, ptr(true)))
			kept++
		}
	}
}

// waitFor orders a colony into a box of the buyer's own and pays the deposit; the second
// buyer lives in the far south.
func (w *world) waitFor(kind apiary.Species, i int) int64 {
	at := pick(w, places)
	w.callers++
	p := sales.Party{Kind: "person", Name: pick(w, given) + " " + pick(w, family), Town: at.town, FoundBy: pick(w, foundBy), Contacts: []sales.Contact{{Kind: "phone", Value: phone(w.callers)}}}
	s := sales.Site{Town: at.town, Region: "QLD", TimeZone: "Australia/Brisbane"}
	if i == 1 {
		p.Town = "Cold Ford"
		s.Town, s.Region, s.TimeZone = p.Town, "VIC", "Australia/Melbourne"
	}
	p = got(w.Sales.PartyPut(w.ctx, p))
	s.PartyID = &p.ID
	s = got(w.Sales.SitePut(w.ctx, s))
	ordered := w.at(8, 30).AddDate(0, 0, i-14)
	o := got(w.Answer.OrderMake(w.ctx, answer.NewOrder{NewOrder: sales.NewOrder{PartyID: p.ID, SiteID: &s.ID, HappenedAt: ordered, DepositMinor: 10000}, Wishes: []sales.Wish{{WithColony: true, BeeSpeciesID: kind.ID, OwnBox: true, Count: 1}}})).Order
	if o.DepositMinor > 0 {
		got(w.Books.PaymentMake(w.ctx, books.Payment{OrderID: o.ID, Kind: "deposit", Method: "transfer", AmountMinor: o.DepositMinor, HappenedAt: ordered.Add(26 * time.Hour)}, nil))
	}
	return o.Lines[0].Units[0].ID
}
