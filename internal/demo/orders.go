package demo

import (
	"time"

	"kerfbook/internal/answer"
	"kerfbook/internal/books"
	"kerfbook/internal/handover"
	"kerfbook/internal/sales"
)

// agreed is what follows an order: the deposit, and now and then a change of mind.
func (w *world) agreed(o sales.Order, b buyer) {
	if o.DepositMinor > 0 && w.chance(0.93) {
		w.in(w.between(1, 6), func() { w.pay(o.ID, "deposit", o.DepositMinor) })
	}
	if !w.chance(0.06) {
		return
	}
	for _, l := range o.Lines { // they had said that they were not sure yet, so nothing is begun
		for _, u := range l.Units {
			w.folk.due[u.ID] = true
		}
	}
	w.in(w.between(7, 14), func() { w.cancel(o.ID) })
}

// receiptDays is since when the workshop writes receipts for transfers too.
const receiptDays = 120

// pay takes money with a receipt.
func (w *world) pay(order int64, kind string, minor int64) {
	if minor <= 0 {
		return
	}
	p := books.Payment{OrderID: order, Kind: kind, Method: pick(w, []string{"transfer", "transfer", "transfer", "cash", "card"}), AmountMinor: minor, HappenedAt: w.at(18, w.rng.IntN(50))}
	if kind == "payment" && w.chance(0.02) {
		p.Method, p.InKind = "in kind", "a hoop pine log, 2.9 m"
	}
	if p.Method == "transfer" && w.ago() > receiptDays { // money by the bank had no receipt then
		got(w.Books.PaymentMake(w.ctx, p, nil))
		return
	}
	got(w.Answer.PaymentTake(w.ctx, p))
}

// cancel ends an order whose work has not begun, or lets it go on; the deposit goes back, in part or whole.
func (w *world) cancel(order int64) {
	w.at(12, 40)
	o := got(w.Sales.OrderGet(w.ctx, order))
	for _, l := range o.Lines {
		for _, u := range l.Units {
			if !u.Open() || u.BuildID != nil {
				delete(w.folk.due, u.ID)
				return
			}
		}
	}
	c := sales.Cancellation{OrderID: order, Because: pick(w, []string{"sold the house", "illness in the family", "changed their mind"})}
	if o.PaidMinor > 0 {
		c.DepositEnd = pick(w, []string{"returned", "kept", "part returned"})
		c.ReturnedMinor = o.PaidMinor / 200 * 100
	}
	got(w.Answer.OrderCancel(w.ctx, answer.Cancel{Cancellation: c}))
}

// tend looks through the open units: bees for those that wait, handovers for those that
// are ready, a word to those whose day cannot be held.
func (w *world) tend() {
	w.at(17, 0)
	if w.ago() < lineDays && w.day.Weekday() == time.Tuesday {
		w.giveByLine()
	}
	open := got(w.Sales.OpenUnits(w.ctx, false, 500))
	w.giveColonies(open)
	for _, o := range open {
		u := o.Unit
		switch {
		case w.folk.due[u.ID]:
		case o.Line.Kind != "box" && o.Line.Kind != "colony":
		case u.Ready() && (u.OwnBox || u.BoxID == nil || u.ColonyID == nil || w.house(*u.ColonyID, *u.BoxID)):
			w.arrange(o)
		case u.DueOn() != nil && w.ago() > 1 && !u.DueOn().After(w.day.AddDate(0, 0, 4)):
			w.putOff(u)
		}
	}
}

// putOff tells the buyer a later day, with the reason.
func (w *world) putOff(u sales.Unit) {
	for part, on := range map[string]*time.Time{"box": u.PromisedBoxOn, "colony": u.PromisedColonyOn} {
		missing := part == "box" && u.WantsBox && !u.OwnBox && u.BoxID == nil || part == "colony" && u.WantsColony && u.ColonyID == nil
		if on == nil || !missing && !u.Ready() {
			continue
		}
		reason := "the timber is not dry yet"
		if u.Ready() {
			reason = "the finish has to cure before the bees go in"
		}
		if part == "colony" {
			reason = "the splits of this season settle slowly"
		}
		to := w.workday(w.day.AddDate(0, 0, w.between(14, 35)))
		ok(w.Sales.PromiseChange(w.ctx, u.ID, part, &to, reason))
	}
}

// arrange fixes the day of a handover: at the workshop, or on a run.
func (w *world) arrange(o sales.OpenUnit) {
	u := o.Unit
	w.folk.due[u.ID] = true
	b := w.buyerOf(o.PartyID)
	days := w.between(2, 9)
	on := w.workday(w.day.AddDate(0, 0, days))
	for part, was := range map[string]*time.Time{"box": u.PromisedBoxOn, "colony": u.PromisedColonyOn} {
		if was != nil && was.Before(on) {
			ok(w.Sales.PromiseChange(w.ctx, u.ID, part, &on, "the day that was agreed on the telephone"))
		}
	}
	if b.site == nil || w.chance(0.6) {
		w.in(days, func() { w.handOver(u.ID, b, nil) })
		return
	}
	w.deliver(days, u, b)
}

func (w *world) buyerOf(party int64) buyer {
	for _, b := range w.people {
		if b.party.ID == party {
			return b
		}
	}
	return buyer{party: got(w.Sales.PartyGet(w.ctx, party))}
}

// deliver plans a run with the unit and drives it on its day.
func (w *world) deliver(days int, u sales.Unit, b buyer) {
	on := w.workday(w.day.AddDate(0, 0, days))
	run := handover.Run{RunOn: on, Kind: "delivery", Driver: "Wren", KM: ptr(2 * b.km), Stops: []handover.Stop{{UnitID: &u.ID, SiteID: &b.site.ID, What: "hand over", MassKG: ptr(9.5)}}}
	if on.Month() >= 11 || on.Month() <= 2 {
		run.ForecastC = ptr(float64(w.between(26, 36)))
	}
	r := got(w.Handover.RunMake(w.ctx, run))
	w.in(days, func() {
		stop := r.Stops[0].ID
		if u.WantsColony {
			ok(w.Handover.StopMark(w.ctx, stop, "closed", w.at(5, 10)))
			ok(w.Handover.StopMark(w.ctx, stop, "opened", w.at(8, 30)))
		}
		w.handOver(u.ID, b, &stop)
		ok(w.Handover.StopMark(w.ctx, stop, "done", w.DB.Now()))
	})
}

// handOverUnits hands over all that is open of a small order.
func (w *world) handOverUnits(order int64, b buyer) {
	for _, l := range got(w.Sales.OrderGet(w.ctx, order)).Lines {
		for _, u := range l.Units {
			if u.Open() {
				w.handOver(u.ID, b, nil)
			}
		}
	}
}

// handOver gives a unit to its buyer, then the invoice and the balance.
func (w *world) handOver(unit int64, b buyer, stop *int64) {
	if w.day.Equal(w.last) { // today's are still to come
		return
	}
	at := w.at(w.between(9, 16), w.rng.IntN(60))
	u := got(w.Sales.UnitGet(w.ctx, unit))
	if !u.Open() {
		return
	}
	if u.OwnBox && u.ColonyID != nil {
		w.toOwnBox(*u.ColonyID)
	}
	g := answer.Giving{UnitID: unit, BoxID: u.BoxID, ColonyID: u.ColonyID, RunStopID: stop, HappenedAt: at, ReceivedBy: b.party.Called()}
	if b.site != nil {
		g.SiteID = &b.site.ID
	}
	if u.ColonyID != nil {
		g.BeesIn, g.BeesOut = ptr(w.between(18, 70)), ptr(w.between(18, 70))
	}
	given := got(w.Answer.HandOver(w.ctx, g))
	w.after(given.Handover)
	o := got(w.Sales.OrderOfUnit(w.ctx, unit))
	if o.State() != sales.OrderHandedOver {
		return
	}
	w.Clock.Set(at.Add(20 * time.Minute))
	got(w.Answer.InvoiceIssue(w.ctx, books.InvoiceNew{OrderID: o.ID}))
	if w.chance(0.9) {
		w.in(w.between(1, 12), func() { w.balance(o.ID) })
	} else {
		w.in(w.between(18, 40), func() { w.balance(o.ID) })
	}
}

// openServices are what the workshop does beside boxes and colonies.
func (w *world) openServices() {
	course := w.first.AddDate(0, 3, 5)
	for _, s := range []sales.Service{{Name: "Splitting a hive at your place", Each: "hive", UnitPriceMinor: 8000}, {Name: "Moving a hive within the valley", Each: "move", UnitPriceMinor: 12000},
		{Name: "A morning with the bees", Each: "seat", UnitPriceMinor: 5500, Seats: ptr(8), HeldOn: &course}, {Name: "Honey of native bees, 100 g", Each: "jar", UnitPriceMinor: 1800, TaxCode: "free"}} {
		got(w.Sales.ServiceSave(w.ctx, s))
	}
}

// openCosts are what the workshop pays again and again.
func (w *world) openCosts() {
	for i, c := range []books.StandingCost{{Name: "Shed rent", AmountMinor: 42000, Every: "month"}, {Name: "Insurance", AmountMinor: 31000, Every: "quarter"}, {Name: "Fuel for mill and car", AmountMinor: 9000, Every: "fortnight"}} {
		c.NextOn = w.first.AddDate(0, 0, 3+5*i)
		got(w.Books.StandingCostSave(w.ctx, c))
	}
}

func (w *world) balance(order int64) {
	_, _, left, err := w.Books.Balance(w.ctx, order)
	ok(err)
	w.pay(order, "payment", left)
}

// after answers the follow-ups of a handover on their days, and brings some claims.
func (w *world) after(h handover.Handover) {
	lost := false
	say := func(f handover.FollowUp, answer, why string) {
		got(w.Answer.FollowUpAnswer(w.ctx, f.ID, handover.Told{Answer: answer, Why: why}))
		lost = lost || answer == "lost"
	}
	for _, f := range got(w.Handover.FollowUpsOf(w.ctx, h.ID)) {
		days := int(f.DueOn.Sub(w.day).Hours()/24) + w.between(0, 6)
		w.in(days, func() {
			w.at(19, 10)
			n := w.rng.IntN(100)
			how := "" // drawn also where nobody asks any more, so that all else stays as it is
			if n >= 87 && n < 90 && h.ColonyID != nil && w.ago() >= 5 {
				how = pick(w, []string{"stood in full sun in the heat", "phorid flies", "moved by the owner, bees went back"})
			}
			switch {
			case lost || w.ago() < 5: // these are still to be asked
			case n < 80:
				say(f, "alive", "")
			case n < 87:
				say(f, "weak", "few bees at the entrance")
			case n < 90 && h.ColonyID != nil:
				say(f, "lost", how)
			case n < 96 || w.ago() > 20:
				say(f, "unknown", "nobody answers")
			}
		})
	}
	if h.BoxID != nil && w.chance(0.05) {
		w.in(w.between(5, 200), func() {
			w.at(14, 10)
			c := got(w.Handover.GuaranteeOpen(w.ctx, handover.GuaranteeNew{HandoverID: h.ID, What: pick(w, []string{"Joint of the roof has opened", "A side has cupped", "The finish comes off on the sunny side"})}))
			w.in(w.between(2, 9), func() {
				w.at(14, 20)
				ok(w.Handover.GuaranteeDecide(w.ctx, c.ID, 1, pick(w, []string{"repaired", "repaired", "replaced", "declined"}), int64(1000*w.between(0, 9)), "looked at it together"))
			})
		})
	}
}

// priceChanges are the three times in two years that list prices went up.
func (w *world) priceChanges() {
	up := w.setPrice
	w.at(7, 5)
	switch w.ago() {
	case 520:
		up(sales.Subject("model", w.models["thick-wall-210"].ID), 320, "45 mm boards lose more at the planer than was counted")
	case 330:
		up(sales.Subject("model", w.models["two-tier-230"].ID), 210, "hoop pine logs are dearer, haulage too")
		up(sales.Subject("model", w.models["deep-honey-230"].ID), 240, "hoop pine logs are dearer, haulage too")
		up(sales.Subject("option", w.options["painted"].ID), 40, "two coats take longer than one was priced at")
	case 150:
		up(sales.Subject("colony", w.bees.kinds["carbonaria"].ID), 380, "ten weeks of care before a colony may go")
		up(sales.Subject("colony", w.bees.kinds["australis"].ID), 450, "few splits take")
	}
}
