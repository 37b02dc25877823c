package answer

import (
	"context"
	"strings"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"kerfbook/internal/calc/costing"
	"kerfbook/internal/fault"
	"kerfbook/internal/sales"
)

// Draft is a quote to be made out from wishes, each of which becomes an alternative.
type Draft struct {
	PartyID          int64
	SiteID           *int64
	EnquiryID        *int64
	VariesOrderID    *int64
	Wishes           []sales.Wish
	Titles           []string     // of the alternatives; may be shorter
	Extra            []sales.Line // goods, services and the like, priced by the caller, in every alternative
	Intro            string
	DateAtAcceptance bool // holds nothing
}

// DraftFromWishes works the wishes out and stores them as a draft quote. The deposit is
// the settings' percentage of the first alternative. Errors: Invalid, NotFound; Conflict
// when nothing can be offered for a wish, with the reasons.
func (r *Room) DraftFromWishes(ctx context.Context, d Draft) (sales.Quote, error) {
	if len(d.Wishes) == 0 {
		return sales.Quote{}, fault.Bad("/wishes", "Say what is wanted.")
	}
	if len(d.Wishes) > 6 {
		return sales.Quote{}, fault.Bad("/wishes", "Six alternatives are as many as a buyer can choose from.")
	}
	var out sales.Quote
	err := r.db.WithTx(ctx, func(ctx context.Context, _ pgx.Tx) error {
		set, _, err := r.settings(ctx)
		if err != nil {
			return err
		}
		q := sales.Quote{PartyID: d.PartyID, SiteID: d.SiteID, EnquiryID: d.EnquiryID, VariesOrderID: d.VariesOrderID, Intro: d.Intro, DateAtAcceptance: d.DateAtAcceptance}
		for i, wish := range d.Wishes {
			a, err := r.alternative(ctx, d, wish)
			if err != nil {
				return err
			}
			if i < len(d.Titles) {
				a.Title = d.Titles[i]
			}
			q.Alternatives = append(q.Alternatives, a)
		}
		q.DepositMinor = depositOf(totalOf(q.Alternatives[0].Lines), set.DepositPct, set.RoundToMinor)
		out, err = r.Sales.QuotePut(ctx, q)
		return err
	})
	return out, err
}

func (r *Room) alternative(ctx context.Context, d Draft, wish sales.Wish) (sales.Alternative, error) {
	a, err := r.Ask(ctx, Question{Wish: wish, PartyID: d.PartyID, SiteID: deref(d.SiteID)})
	if err != nil {
		return sales.Alternative{}, err
	}
	if len(a.Lines)+len(d.Extra) == 0 {
		return sales.Alternative{}, fault.New(fault.Conflict, "Nothing can be offered yet. %s", strings.Join(texts(a.Reasons), " "))
	}
	out := sales.Alternative{BoxOn: a.BoxOn, ColonyOn: a.ColonyOn, Lines: append(a.Lines, d.Extra...), Title: titleOf(a)}
	out.SetWish(wish)
	return out, nil
}

// titleOf is the description of the first line, without what a title does not need.
func titleOf(a Answer) string {
	if len(a.Lines) == 0 {
		return ""
	}
	return a.Lines[0].Description
}

func texts(reasons []Reason) []string {
	list := make([]string, len(reasons))
	for i, r := range reasons {
		list[i] = r.Text
	}
	return list
}

func totalOf(lines []sales.Line) int64 {
	var sum int64
	for _, l := range lines {
		sum += l.PriceMinor
	}
	return sum
}

// depositOf is pct of a price, to the nearest step of the settings, never more than the
// price.
func depositOf(price int64, pct decimal.Decimal, step int64) int64 {
	exact := decimal.NewFromInt(price).Mul(pct).Div(hundred)
	return min(price, costing.RoundTo(exact, decimal.NewFromInt(max(1, step))).IntPart())
}

func deref(id *int64) int64 {
	if id == nil {
		return 0
	}
	return *id
}

// QuoteReissue answers a late yes: the next revision of an issued quote with its dates
// worked out anew from the stored wishes, issued in one step. Prices stay as they were
// quoted. Errors: as of revising and issuing; nothing stays when issuing fails.
func (r *Room) QuoteReissue(ctx context.Context, id int64) (sales.Quote, error) {
	var out sales.Quote
	err := r.db.WithTx(ctx, func(ctx context.Context, _ pgx.Tx) error {
		next, err := r.Sales.QuoteRevise(ctx, id)
		if err != nil {
			return err
		}
		for i := range next.Alternatives {
			if err := r.redate(ctx, next, &next.Alternatives[i]); err != nil {
				return err
			}
		}
		if next, err = r.Sales.QuotePut(ctx, next); err != nil {
			return err
		}
		out, err = r.QuoteIssue(ctx, next.ID, next.Version)
		return err
	})
	return out, err
}

// redate works the dates and needs of an alternative out anew; one without a wish keeps
// what it has.
func (r *Room) redate(ctx context.Context, q sales.Quote, alt *sales.Alternative) error {
	wish := alt.Wish()
	if wish.ModelID == 0 && wish.BeeSpeciesID == 0 && !wish.WithColony && !wish.OwnBox {
		return nil
	}
	a, err := r.Ask(ctx, Question{Wish: wish, PartyID: q.PartyID, SiteID: deref(q.SiteID), QuoteID: q.ID})
	if err != nil {
		return err
	}
	alt.BoxOn, alt.ColonyOn = a.BoxOn, a.ColonyOn
	for i := range alt.Lines {
		l := &alt.Lines[i]
		for _, fresh := range a.Lines {
			if fresh.Kind == l.Kind && (l.Kind == "box" || l.Kind == "colony") {
				l.BoxOn, l.ColonyOn, l.NeedsJSON = fresh.BoxOn, fresh.ColonyOn, fresh.NeedsJSON
			}
		}
	}
	return nil
}
