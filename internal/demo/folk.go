package demo

import (
	"fmt"
	"strings"
	"time"

	"github.com/shopspring/decimal"

	"kerfbook/internal/answer"
	"kerfbook/internal/sales"
)

// folk is who is known, and how far their business is.
type folk struct {
	people  []buyer
	callers int
	due     map[int64]bool // units whose handover is arranged
}

// buyer is a party with the place where a hive would stand.
type buyer struct {
	party sales.Party
	site  *sales.Site
	km    float64
}

// salesDay is the telephone, then the line of open units.
func (w *world) salesDay() {
	if w.folk.due == nil {
		w.folk.due = map[int64]bool{}
	}
	calls, often := 0, 0.37
	if w.ago() < 40 {
		often = 0.62 // spring: everybody rings
	}
	for w.chance(often) && calls < 4 {
		calls++
	}
	for range calls {
		w.call()
	}
	if wd := w.day.Weekday(); wd == time.Tuesday || wd == time.Friday || w.ago() < 3 {
		w.tend()
	}
}

// caller is somebody known, or somebody new.
func (w *world) caller() buyer {
	if len(w.people) > 20 && w.chance(0.16) {
		return pick(w, w.people)
	}
	w.callers++
	at := pick(w, places)
	p := sales.Party{Kind: "person", Name: pick(w, given) + " " + pick(w, family), Town: at.town, FoundBy: pick(w, foundBy)}
	if w.callers%17 == 9 {
		org := organisations[w.callers/17%len(organisations)]
		p.Kind, p.Name = "organisation", org
		p.Contacts = append(p.Contacts, sales.Contact{Kind: "email", Value: "office@" + strings.Map(letters, strings.ToLower(org)) + ".example", Person: pick(w, given)})
		switch {
		case strings.Contains(org, "Shire"):
			p.BuyerClassID = ptr(w.classes["Council"].ID)
		default:
			p.BuyerClassID = ptr(w.classes["School or club"].ID)
		}
	} else if w.chance(0.08) {
		p.BuyerClassID = ptr(w.classes[pick(w, []string{"Friend", "Keeper of many"})].ID)
	}
	p.Contacts = append(p.Contacts, sales.Contact{Kind: "phone", Value: phone(w.callers)})
	if p.Kind == "person" && w.chance(0.35) {
		p.Contacts = append(p.Contacts, sales.Contact{Kind: "email", Value: strings.Map(letters, strings.ToLower(strings.ReplaceAll(p.Name, " ", "."))) + "@post.example"})
	}
	b := buyer{party: got(w.Sales.PartyPut(w.ctx, p)), km: at.km}
	if w.chance(0.6) {
		s := sales.Site{PartyID: &b.party.ID, Address: fmt.Sprintf("%d %s", w.between(2, 190), pick(w, roads)), Town: at.town, Region: "QLD", Postcode: "4599",
			Latitude: ptr(at.lat + (w.rng.Float64()-0.5)/40), Longitude: ptr(at.lon + (w.rng.Float64()-0.5)/40), TimeZone: "Australia/Brisbane",
			Wall: pick(w, []string{"east wall of the shed", "veranda post", "fence by the orchard", "north wall, carport"}), WallFacesDeg: ptr(float64(30 * w.rng.IntN(12))), EaveOutMM: ptr(float64(300 + 100*w.rng.IntN(5))), EaveAboveMM: ptr(float64(700 + 100*w.rng.IntN(8)))}
		b.site = ptr(got(w.Sales.SitePut(w.ctx, s)))
	}
	w.people = append(w.people, b)
	return b
}

// letters keeps what may stand in an address.
func letters(r rune) rune {
	if r >= 'a' && r <= 'z' || r == '.' {
		return r
	}
	return -1
}

// wish is what somebody wants, with how they say it.
func (w *world) wish(b buyer) (sales.Wish, string) {
	k := w.kind()
	bee := pick(w, []string{"carbonaria", "carbonaria", "carbonaria", "carbonaria", "hockingsi", "australis"})
	wish := sales.Wish{ModelID: w.models[k.model].ID, TimberID: w.woods[k.wood].ID, OptionIDs: w.optionIDs(k.options), Count: 1}
	said := "A " + strings.ToLower(w.models[k.model].Name) + " in " + strings.ToLower(w.woods[k.wood].Name)
	switch n := w.rng.IntN(10); {
	case n < 3:
		wish.WithColony, wish.BeeSpeciesID = true, w.bees.kinds[bee].ID
		said += " with bees"
	case n == 9 && w.chance(0.6):
		return sales.Wish{WithColony: true, BeeSpeciesID: w.bees.kinds[bee].ID, OwnBox: true, Count: 1}, "Bees for a box of their own, " + w.bees.kinds[bee].CommonName
	}
	if b.party.Kind == "organisation" {
		wish.Count, wish.WithColony, wish.BeeSpeciesID = w.between(2, 6), false, 0
		said = fmt.Sprintf("%d of them: ", wish.Count) + said
	} else if !wish.WithColony && w.chance(0.15) {
		wish.Count = 2
		said += ", two of them"
	}
	if b.site != nil && w.chance(0.4) {
		wish.Deliver, wish.DeliverKM = true, b.km
		said += ", brought to " + b.party.Town
	}
	return wish, said
}

// call is a buyer asking, and what comes of it.
func (w *world) call() {
	at := w.at(w.between(8, 17), w.rng.IntN(60))
	b := w.caller()
	wish, said := w.wish(b)
	e := sales.Enquiry{HappenedAt: at, PartyID: &b.party.ID, Name: b.party.Name, Number: b.party.Phone(), Place: b.party.Town, Wanted: said, FoundBy: b.party.FoundBy}
	e.SetWish(wish)
	n := w.rng.IntN(100)
	if n < 22 {
		e.RingAgainOn = ptr(w.workday(w.day.AddDate(0, 0, w.between(2, 20))))
	}
	e = got(w.Sales.EnquiryPut(w.ctx, e))
	switch {
	case n < 22: // rung again, mostly without a sale
		w.in(int(e.RingAgainOn.Sub(w.day).Hours()/24), func() { w.ringAgain(e, b, wish) })
	case n < 72:
		if w.chance(0.5) {
			w.quote(e, b, wish)
		} else {
			w.in(w.between(1, 3), func() { w.quote(e, b, wish) })
		}
	case n < 90:
		w.in(w.between(1, 4), func() { w.order(e, b, wish) })
	default:
		w.in(w.between(1, 6), func() { w.smallOrder(e, b) })
	}
}

func (w *world) ringAgain(e sales.Enquiry, b buyer, wish sales.Wish) {
	if w.day.Equal(w.last) { // today's calls are still to be made
		return
	}
	w.at(12, 30)
	if w.chance(0.3) {
		e.RingAgainOn = nil
		w.quote(got(w.Sales.EnquiryPut(w.ctx, e)), b, wish)
		return
	}
	ok(w.Sales.EnquiryClose(w.ctx, e.ID, pick(w, []string{"only wanted to know the price", "found a second-hand box", "no answer, twice", "moving house first", "next year perhaps"})))
}

// quote makes an offer out and lets the buyer think about it.
func (w *world) quote(e sales.Enquiry, b buyer, wish sales.Wish) {
	w.at(w.between(17, 19), w.rng.IntN(60))
	d := answer.Draft{PartyID: b.party.ID, EnquiryID: &e.ID, Wishes: []sales.Wish{wish}, DateAtAcceptance: w.chance(0.1)}
	if b.site != nil {
		d.SiteID = &b.site.ID
	}
	if wish.ModelID != 0 && w.chance(0.3) {
		other := wish
		other.WithColony, other.BeeSpeciesID = !wish.WithColony, w.bees.kinds["carbonaria"].ID
		if !other.WithColony {
			other.BeeSpeciesID = 0
		}
		d.Wishes = append(d.Wishes, other)
	}
	q := w.draft(d, b)
	if w.chance(0.03) {
		if w.chance(0.5) {
			ok(w.Sales.QuoteThrowAway(w.ctx, q.ID))
		}
		return
	}
	q = got(w.Answer.QuoteIssue(w.ctx, q.ID, q.Version))
	w.await(q, b)
}

// await is what becomes of an issued quote: half of them are accepted.
func (w *world) await(q sales.Quote, b buyer) {
	switch n := w.rng.IntN(100); {
	case n < 58:
		w.in(w.between(1, 16), func() { w.accept(q, b) })
	case n < 68:
		w.in(w.between(3, 20), func() {
			w.at(13, 10)
			ok(w.Sales.QuoteEnd(w.ctx, q.ID, "declined", pick(w, []string{"too dear", "chose a smaller box elsewhere", "landlord said no", "wants bees sooner"})))
			w.closeEnquiry(q, "declined the quote")
		})
	case n < 72:
		w.in(w.between(4, 15), func() {
			w.at(13, 20)
			ok(w.Sales.QuoteEnd(w.ctx, q.ID, "withdrawn", "timber of that kind is not to be had this year"))
			w.closeEnquiry(q, "quote withdrawn")
		})
	case n < 82:
		w.in(w.between(2, 12), func() { w.revise(q, b) })
	default: // it lapses; some say yes too late
		late := w.chance(0.2)
		w.in(w.between(33, 45), func() {
			w.at(13, 30)
			if late {
				again := got(w.Answer.QuoteReissue(w.ctx, q.ID))
				w.in(w.between(1, 3), func() { w.accept(again, b) })
				return
			}
			w.closeEnquiry(q, "no answer to the quote")
		})
	}
}

func (w *world) closeEnquiry(q sales.Quote, because string) {
	if q.EnquiryID == nil {
		return
	}
	if e := got(w.Sales.EnquiryGet(w.ctx, *q.EnquiryID)); e.ClosedAt == nil {
		ok(w.Sales.EnquiryClose(w.ctx, e.ID, because))
	}
}

// revise is a later revision with something changed, then accepted or left.
func (w *world) revise(q sales.Quote, b buyer) {
	w.at(18, 5)
	next := got(w.Sales.QuoteRevise(w.ctx, q.ID))
	next.Intro = "As we talked about on the telephone."
	for i := range next.Alternatives {
		for j := range next.Alternatives[i].Lines {
			l := &next.Alternatives[i].Lines[j]
			if l.Kind == "text" || l.Kind == "service" {
				continue
			}
			l.UnitPriceMinor -= 1000 // ten dollars off each, ex tax
			off := l.Quantity.Mul(decimal.NewFromInt(1000)).IntPart()
			tax := decimal.NewFromInt(off).Mul(l.TaxPct).Div(decimal.NewFromInt(100)).Round(0).IntPart()
			l.PriceExTaxMinor, l.TaxMinor, l.PriceMinor = l.PriceExTaxMinor-off, l.TaxMinor-tax, l.PriceMinor-off-tax
			break
		}
	}
	next = got(w.Sales.QuotePut(w.ctx, next))
	next = got(w.Answer.QuoteIssue(w.ctx, next.ID, next.Version))
	if w.chance(0.7) {
		w.in(w.between(1, 10), func() { w.accept(next, b) })
		return
	}
	w.in(40, func() { w.at(13, 40); w.closeEnquiry(next, "no answer to the second quote") })
}

// accept is the buyer's yes to one alternative.
func (w *world) accept(q sales.Quote, b buyer) {
	at := w.at(12, w.rng.IntN(60))
	alt := q.Alternatives[0].ID
	if len(q.Alternatives) > 1 && w.chance(0.35) {
		alt = q.Alternatives[1].ID
	}
	a := sales.Acceptance{QuoteID: q.ID, AlternativeID: alt, HappenedAt: at}
	if w.early() && !q.DateAtAcceptance {
		o := got(w.Sales.QuoteAccept(w.ctx, a))
		w.closeEnquiry(q, "Ordered: "+o.Number)
		w.fromShelf(o)
		w.agreed(o, b)
		return
	}
	w.agreed(got(w.Answer.QuoteAccept(w.ctx, a)).Order, b)
}

// order is one without a quote: the answer on the telephone was enough.
func (w *world) order(e sales.Enquiry, b buyer, wish sales.Wish) {
	w.at(16, w.rng.IntN(60))
	n := answer.NewOrder{NewOrder: sales.NewOrder{PartyID: b.party.ID, DepositMinor: 0, OwnBox: wish.OwnBox}, Wishes: []sales.Wish{wish}}
	if b.site != nil {
		n.SiteID = &b.site.ID
	}
	var o sales.Order
	if w.early() {
		n.Lines = w.lines(wish, b)
		n.DepositMinor = deposit(n.Lines)
		o = got(w.Sales.OrderMake(w.ctx, n.NewOrder))
		w.fromShelf(o)
	} else {
		o = got(w.Answer.OrderMake(w.ctx, n)).Order
	}
	w.closeEnquiry(sales.Quote{EnquiryID: &e.ID}, "Ordered: "+o.Number)
	w.agreed(o, b)
}

// smallOrder is goods, or a service for a keeper.
func (w *world) smallOrder(e sales.Enquiry, b buyer) {
	w.at(15, w.rng.IntN(60))
	l := sales.Line{TaxCode: "standard", TaxPct: decimal.NewFromInt(10), Quantity: decimal.NewFromInt(1)}
	switch w.rng.IntN(4) {
	case 0:
		l.Kind, l.Description, l.UnitPriceMinor = "service", "Splitting a hive at your place", 8000
	case 1:
		l.Kind, l.Description, l.UnitPriceMinor = "service", "Moving a hive within the valley", 12000
	case 2:
		i := w.items["roof-sheet"]
		l.Kind, l.Description, l.UnitPriceMinor, l.ItemID, l.Quantity = "goods", i.Name, 4000, &i.ID, decimal.NewFromInt(int64(w.between(1, 2)))
	case 3:
		i := w.items["post-stand"]
		l.Kind, l.Description, l.UnitPriceMinor, l.ItemID = "goods", i.Name, 7000, &i.ID
	}
	l.PriceExTaxMinor = l.UnitPriceMinor * l.Quantity.IntPart()
	l.TaxMinor = l.PriceExTaxMinor / 10
	l.PriceMinor = l.PriceExTaxMinor + l.TaxMinor
	agreed := got(w.Answer.OrderMake(w.ctx, answer.NewOrder{NewOrder: sales.NewOrder{PartyID: b.party.ID, Lines: []sales.Line{l}}}))
	w.closeEnquiry(sales.Quote{EnquiryID: &e.ID}, "Ordered: "+agreed.Order.Number)
	o := agreed.Order
	w.in(w.between(2, 9), func() { w.handOverUnits(o.ID, b) })
}
