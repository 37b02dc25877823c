package demo

import (
	"slices"
	"strings"
	"time"

	"github.com/shopspring/decimal"

	"kerfbook/internal/answer"
	"kerfbook/internal/sales"
)

// recentDays is how far back quotes and orders are worked out by the answer, with what
// they put aside. What is older rests on the list price and a usual delay: what an answer
// of then would have said of the stock of then is of no use now, and the filling is three
// times as quick (our measurement).
const recentDays = 75

func (w *world) early() bool { return w.ago() > recentDays }

// setPrice puts a list price into the book and remembers it.
func (w *world) setPrice(subject string, dollars int64, reason string) {
	if w.prices == nil {
		w.prices = map[string]int64{}
	}
	w.prices[subject] = dollars * 100
	got(w.Sales.PricePut(w.ctx, sales.ListPrice{Subject: subject, FromOn: w.day, PriceMinor: dollars * 100, Reason: reason}))
}

// lines is what a wish came to by the list prices, less the step of the buyer's class.
func (w *world) lines(wish sales.Wish, b buyer) []sales.Line {
	n := int64(wish.Pieces())
	boxOn := w.workday(w.day.AddDate(0, 0, w.between(32, 50)))
	var colonyOn *time.Time
	if wish.WithColony {
		colonyOn = ptr(w.workday(boxOn.AddDate(0, 0, w.between(5, 40))))
	}
	var list []sales.Line
	if wish.ModelID != 0 {
		l, each := sales.Line{Kind: "box", TimberSpeciesID: &wish.TimberID, WithColony: wish.WithColony, BoxOn: &boxOn, ColonyOn: colonyOn}, w.prices[sales.Subject("model", wish.ModelID)]
		var words []string
		for code, m := range w.models {
			if m.ID == wish.ModelID {
				l.ModelRevisionID = ptr(w.revs[code].ID)
				words = append(words, m.Name)
			}
		}
		for _, s := range w.woods {
			if s.ID == wish.TimberID {
				words = append(words, strings.ToLower(s.Name))
			}
		}
		for _, id := range wish.OptionIDs {
			each += w.prices[sales.Subject("option", id)]
			for _, o := range w.options {
				if o.ID == id {
					words = append(words, strings.ToLower(o.Name))
				}
			}
		}
		l.SetOptions(wish.OptionIDs)
		if wish.WithColony {
			l.BeeSpeciesID = &wish.BeeSpeciesID
			each += w.prices[sales.Subject("colony", wish.BeeSpeciesID)]
			words = append(words, "with a colony of "+w.beeName(wish.BeeSpeciesID))
		}
		l.Description = strings.Join(words, ", ")
		list = append(list, w.priced(l, n, each, b))
	}
	if wish.WithColony && wish.ModelID == 0 {
		l := sales.Line{Kind: "colony", Description: "Colony of " + w.beeName(wish.BeeSpeciesID) + ", into a box of your own", BeeSpeciesID: &wish.BeeSpeciesID, ColonyOn: colonyOn}
		list = append(list, w.priced(l, n, w.prices[sales.Subject("colony", wish.BeeSpeciesID)], b))
	}
	if wish.Deliver {
		list = append(list, w.priced(sales.Line{Kind: "service", Description: "Delivery to " + b.party.Town}, 1, int64(wish.DeliverKM)*270, buyer{}))
	}
	return list
}

func (w *world) beeName(id int64) string {
	for _, s := range w.bees.kinds {
		if s.ID == id {
			return s.Name
		}
	}
	return ""
}

// priced fills the amounts of n pieces at a price each, ex tax; each with tax is whole
// dollars.
func (w *world) priced(l sales.Line, n, each int64, b buyer) sales.Line {
	for _, c := range w.classes {
		if b.party.BuyerClassID != nil && c.ID == *b.party.BuyerClassID {
			each = decimal.NewFromInt(each).Mul(decimal.NewFromInt(100).Sub(c.StepPct)).Div(decimal.NewFromInt(100)).Round(0).IntPart()
		}
	}
	gross := (each*11/10 + 50) / 100 * 100
	tax := decimal.NewFromInt(gross).Div(decimal.NewFromInt(11)).Round(0).IntPart() // GST is an eleventh of the price with it
	l.Quantity, l.TaxCode, l.TaxPct = decimal.NewFromInt(n), "standard", decimal.NewFromInt(10)
	l.UnitPriceMinor, l.PriceExTaxMinor, l.TaxMinor, l.PriceMinor = gross-tax, n*(gross-tax), n*tax, n*gross
	l.CostMinor = l.PriceExTaxMinor * int64(w.between(56, 74)) / 100
	return l
}

// draft makes a draft quote out: by the answer, or early by the list.
func (w *world) draft(d answer.Draft, b buyer) sales.Quote {
	if !w.early() {
		return got(w.Answer.DraftFromWishes(w.ctx, d))
	}
	q := sales.Quote{PartyID: d.PartyID, SiteID: d.SiteID, EnquiryID: d.EnquiryID, DateAtAcceptance: d.DateAtAcceptance}
	for _, wish := range d.Wishes {
		a := sales.Alternative{Lines: w.lines(wish, b)}
		a.Title, a.BoxOn, a.ColonyOn = a.Lines[0].Description, a.Lines[0].BoxOn, a.Lines[0].ColonyOn
		a.SetWish(wish)
		q.Alternatives = append(q.Alternatives, a)
	}
	q.DepositMinor = deposit(q.Alternatives[0].Lines)
	return got(w.Sales.QuotePut(w.ctx, q))
}

// deposit is three tenths of the price in whole dollars.
func deposit(lines []sales.Line) int64 {
	var sum int64
	for _, l := range lines {
		sum += l.PriceMinor
	}
	return sum * 3 / 1000 * 100
}

// fromShelf puts boxes of the shelf aside for the units of an early order.
func (w *world) fromShelf(o sales.Order) {
	for _, l := range o.Lines {
		for _, u := range l.Units {
			i := slices.IndexFunc(w.empties, func(b shelved) bool {
				return l.Kind == "box" && b.rev == *l.ModelRevisionID && b.wood == *l.TimberSpeciesID && slices.Equal(b.options, l.Options())
			})
			if i < 0 {
				continue
			}
			id := w.empties[i].id
			w.empties = slices.Delete(w.empties, i, i+1)
			if w.boxFree(id) {
				ok(w.Answer.BoxPutAside(w.ctx, u.ID, id))
			}
		}
	}
}
