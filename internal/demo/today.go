package demo

import (
	"kerfbook/internal/answer"
	"kerfbook/internal/claims"
	"kerfbook/internal/handover"
	"kerfbook/internal/sales"
	"kerfbook/internal/timber"
	"kerfbook/internal/workshop"
)

// yesterday leaves a hive closed: it was moved in the evening and nobody has opened it.
func (w *world) yesterday() {
	for _, h := range w.hives {
		if !h.settles.IsZero() || !w.ours(h) {
			continue
		}
		w.at(17, 10)
		r := got(w.Handover.RunMake(w.ctx, handover.Run{RunOn: w.day, Kind: "visits", Driver: "Pasco", KM: ptr(18.0), Notes: "To the macadamias for the flowering.",
			Stops: []handover.Stop{{ColonyID: &h.id, What: "the colony behind the pump shed"}}}))
		ok(w.Handover.StopMark(w.ctx, r.Stops[0].ID, "closed", w.at(17, 40)))
		return
	}
}

// finish makes what only today asks: batches on the bench and their plan, a run, calls,
// and two facts that broke a promise.
func (w *world) finish() {
	w.say("today")
	w.day = w.last
	w.at(7, 30)
	for i, g := range w.toBuild() {
		if i == 3 {
			break
		}
		w.startBuild(g)
	}
	if len(w.going) == 0 {
		w.forShelf()
	}
	w.buildsDue()
	w.cutTogether()
	ok(w.Workshop.WeatherMark(w.ctx, w.last.AddDate(0, 0, 1), ptr(false)))
	p := got(w.Workshop.PlanLay(w.ctx, "The week's plan", workshop.PlanChange{}))
	got(w.Workshop.PlanAccept(w.ctx, p.ID))
	w.bigOrder()
	w.claimOpened()
	w.millAhead()
	w.todaysRun()
	w.roundAhead()
	w.todaysCalls()
	w.draftLeft()
	w.rackCount()
	w.screwsLow()
	w.lostColony()
	w.beeLine()
	w.keepings()
	w.family()
	w.logsLying()
	w.register()
	w.ahead()
}

// buildsDue lets one open build be due today and one tomorrow.
func (w *world) buildsDue() {
	list, _, err := w.Workshop.BuildList(w.ctx, workshop.BuildFilter{Limit: 2})
	ok(err)
	for i, b := range list {
		got(w.Workshop.BuildSave(w.ctx, workshop.BuildChange{ID: b.ID, Version: b.Version, DueOn: ptr(w.last.AddDate(0, 0, i)), NotBefore: b.NotBefore, HeldTo: b.HeldTo, Notes: b.Notes}))
	}
}

// millAhead is a pace that the rack will not keep up with for long, and a log that helps.
func (w *world) millAhead() {
	w.at(7, 50)
	ok(w.Timber.PaceSet(w.ctx, timber.Pace{ModelID: w.models["two-tier-230"].ID, SpeciesID: w.woods["white-cypress"].ID, BoxesAMonth: mm(10)}))
	got(w.Timber.LogSave(w.ctx, timber.Log{SpeciesID: w.woods["white-cypress"].ID, SmallEndMM: mm(390), LargeEndMM: mm(425), LengthMM: mm(3100), SweepMM: mm(10), FelledOn: ptr(w.day.AddDate(0, 0, -12)), EndsSealed: true,
		FromWhere: "Tin Kettle Creek, fence line", CostMinor: 21000, HaulageMinor: 5500}, false))
}

// cutTogether plans two open builds together, and one board of them is cut.
func (w *world) cutTogether() {
	list, _, err := w.Workshop.BuildList(w.ctx, workshop.BuildFilter{Limit: 20})
	ok(err)
	var ids []int64
	for _, b := range list {
		if b.StartedAt == nil && len(ids) < 2 {
			ids = append(ids, b.ID)
		}
	}
	if len(ids) < 2 {
		return
	}
	c := got(w.Workshop.CuttingTogether(w.ctx, ids))
	if c.Totals.Boards == 0 {
		return
	}
	c = got(w.Workshop.CuttingPutAside(w.ctx, c.ID))
	for _, p := range c.Plans {
		if len(p.Answered.Layouts) > 0 {
			got(w.Workshop.CuttingDone(w.ctx, c.ID, p.ID, 0, 1, w.at(7, 40)))
			return
		}
	}
}

// bigOrder is one the rack cannot serve: timber is short for it.
func (w *world) bigOrder() {
	w.at(8, 5)
	for _, b := range w.people {
		if b.party.Kind != "organisation" {
			continue
		}
		got(w.Answer.OrderMake(w.ctx, answer.NewOrder{NewOrder: sales.NewOrder{PartyID: b.party.ID, Notes: "For the trail of hives; all in the same timber."},
			Wishes: []sales.Wish{{ModelID: w.models["thick-wall-210"].ID, TimberID: w.woods["southern-silky-oak"].ID, OptionIDs: w.optionIDs([]string{"oiled"}), Count: 8}}}))
		return
	}
}

// claimOpened is a claim on the guarantee that the owner has to decide.
func (w *world) claimOpened() {
	list, _, err := w.Handover.List(w.ctx, 30, "")
	ok(err)
	for _, h := range list[len(list)/2:] {
		if h.BoxID != nil {
			got(w.Handover.GuaranteeOpen(w.ctx, handover.GuaranteeNew{HandoverID: h.ID, HappenedAt: w.at(8, 15), What: "The roof lets water in at the back"}))
			return
		}
	}
}

// todaysRun brings what is ready to buyers who have said where.
func (w *world) todaysRun() {
	run := handover.Run{RunOn: w.last, Driver: "Wren", KM: ptr(46.0), ForecastC: ptr(33.0)}
	for _, o := range got(w.Sales.OpenUnits(w.ctx, false, 500)) {
		if o.Unit.Ready() && !o.Unit.OwnBox && w.buyerOf(o.PartyID).site != nil && len(run.Stops) < 3 {
			run.Stops = append(run.Stops, handover.Stop{UnitID: ptr(o.Unit.ID), What: "hand over", MassKG: ptr(9.5)})
		}
	}
	if len(run.Stops) == 0 { // nothing is ready to go: the trees are looked after instead
		run.Kind = "visits"
		for _, t := range w.trees[:2] {
			run.Stops = append(run.Stops, handover.Stop{HostTreeID: ptr(t.ID), What: t.Name})
		}
	}
	got(w.Handover.RunMake(w.ctx, run))
}

// todaysCalls are people who asked to be rung today.
func (w *world) todaysCalls() {
	w.at(8, 10)
	for _, c := range []struct{ name, number, place, wanted string }{
		{"Oriel Penhallick", "07 5550 0367", "Little Moran", "A box for the school veranda, has to ask the committee"},
		{"", "0491 570 313", "Harrow Hill", "Wants to know when bees are to be had"},
	} {
		got(w.Sales.EnquiryPut(w.ctx, sales.Enquiry{HappenedAt: w.DB.Now().AddDate(0, 0, -6), Name: c.name, Number: c.number, Place: c.place, Wanted: c.wanted, FoundBy: "a neighbour", RingAgainOn: ptr(w.last)}))
	}
}

// draftLeft is a quote that was begun this morning and is not issued yet.
func (w *world) draftLeft() {
	w.at(8, 20)
	b := w.caller()
	wish, said := w.wish(b)
	e := sales.Enquiry{HappenedAt: w.DB.Now(), PartyID: &b.party.ID, Name: b.party.Name, Number: b.party.Phone(), Place: b.party.Town, Wanted: said, FoundBy: b.party.FoundBy}
	e.SetWish(wish)
	e = got(w.Sales.EnquiryPut(w.ctx, e))
	got(w.Answer.DraftFromWishes(w.ctx, answer.Draft{PartyID: b.party.ID, EnquiryID: &e.ID, Wishes: []sales.Wish{wish}}))
}

// rackCount finds one board fewer than are put aside, in the lot with the fewest to spare:
// a fact that breaks a promise.
func (w *world) rackCount() {
	var found *timber.Lot
	after := ""
	for {
		lots, next, err := w.Timber.LotList(w.ctx, timber.LotFilter{Limit: 200, After: after})
		ok(err)
		for _, l := range lots {
			if l.PutAside > 0 && (found == nil || l.OnHand-l.PutAside < found.OnHand-found.PutAside) {
				found = ptr(l)
			}
		}
		if after = next; next == "" {
			break
		}
	}
	if found != nil {
		got(w.Timber.Count(w.ctx, []timber.CountLine{{Thing: claims.Lot(found.ID), Counted: found.PutAside - 1}}, w.DB.Now()))
	}
}

// screwsLow is a fitting that was counted this morning and is to be bought again.
func (w *world) screwsLow() {
	list, _, err := w.Timber.ItemList(w.ctx, timber.ItemFilter{Limit: 200})
	ok(err)
	for _, x := range list {
		if x.Counted && x.LowMark > 0 {
			got(w.Timber.Count(w.ctx, []timber.CountLine{{Thing: claims.Item(x.ID), Counted: x.PutAside + x.LowMark - 1}}, w.DB.Now()))
			return
		}
	}
}

// lostColony is a promised colony that died.
func (w *world) lostColony() {
	for _, o := range got(w.Sales.OpenUnits(w.ctx, true, 500)) {
		if o.Unit.ColonyID != nil {
			ok(w.Apiary.End(w.ctx, *o.Unit.ColonyID, "ants came in through a gap in the night", w.DB.Now()))
			return
		}
	}
}
