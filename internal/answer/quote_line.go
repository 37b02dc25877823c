package answer

import (
	"context"
	"strings"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/sales"
)

// QuoteLine is a line that is put on a draft by hand: so much of a service, or plain words with a price.
type QuoteLine struct {
	AlternativeID  int64 // 0: on every alternative
	ServiceID      int64 // 0: plain words
	Description    string
	Quantity       decimal.Decimal
	UnitPriceMinor *int64 // each, without tax; nil with a service: the service's
	TaxCode        string // of plain words
}

// QuoteLineAdd puts a line on a draft quote, beside what was worked out from the wish; version is that of the draft,
// 0 for whatever it is. A service keeps its own tax code. Errors: Conflict when the quote is issued, Stale, NotFound,
// Invalid.
func (r *Room) QuoteLineAdd(ctx context.Context, quote int64, version int, n QuoteLine) (sales.Quote, error) {
	return r.changeDraft(ctx, quote, version, func(ctx context.Context, q *sales.Quote) error {
		_, today, err := r.settings(ctx)
		if err != nil {
			return err
		}
		tax, err := house.TaxIn(ctx, r.db, today)
		if err != nil {
			return err
		}
		line, err := r.addedLine(ctx, n, tax)
		if err != nil {
			return err
		}
		put := false
		for i := range q.Alternatives {
			if a := &q.Alternatives[i]; n.AlternativeID == 0 || a.ID == n.AlternativeID {
				a.Lines, put = append(a.Lines, line), true
			}
		}
		if !put {
			return fault.Bad("/alternative_id", "There is no such alternative on this quote.")
		}
		return nil
	})
}

func (r *Room) addedLine(ctx context.Context, n QuoteLine, tax house.TaxState) (sales.Line, error) {
	if n.ServiceID != 0 {
		l, err := r.serviceLine(ctx, "", ServiceLine{ServiceID: n.ServiceID, Quantity: n.Quantity, UnitPriceMinor: n.UnitPriceMinor}, tax)
		l.Added = true
		return l, err
	}
	var list fault.List
	words := strings.TrimSpace(n.Description)
	list.Text("/description", words, fault.ShortText)
	list.Check(words != "", "/description", "Say what it is.")
	list.Check(goodQuantity(n.Quantity), "/quantity", quantityWords)
	list.Check(n.UnitPriceMinor != nil && goodPrice(*n.UnitPriceMinor), "/unit_price_minor", "Say the price of one, without tax; it cannot be negative, or very large.")
	if err := list.Err(); err != nil {
		return sales.Line{}, err
	}
	pct, err := tax.Pct(n.TaxCode)
	if err != nil {
		return sales.Line{}, err
	}
	l := plainLine("text", words, n.Quantity, *n.UnitPriceMinor, n.TaxCode, pct)
	l.Added = true
	return l, nil
}

// QuoteLineRemove takes a line off a draft that was put there by hand. Errors: Conflict when the quote is issued or the
// line belongs to what was worked out, Stale, NotFound.
func (r *Room) QuoteLineRemove(ctx context.Context, quote int64, version int, line int64) (sales.Quote, error) {
	return r.changeDraft(ctx, quote, version, func(_ context.Context, q *sales.Quote) error {
		for i := range q.Alternatives {
			a := &q.Alternatives[i]
			for k, l := range a.Lines {
				if l.ID != line {
					continue
				}
				if !l.Added {
					return fault.New(fault.Conflict, "This line was worked out from what is wanted. Ask again for something else.")
				}
				a.Lines = append(a.Lines[:k], a.Lines[k+1:]...)
				return nil
			}
		}
		return fault.New(fault.NotFound, "This line is no longer on the quote.")
	})
}

// changeDraft changes a draft quote in one transaction and works its sums out anew.
func (r *Room) changeDraft(ctx context.Context, quote int64, version int, change func(context.Context, *sales.Quote) error) (sales.Quote, error) {
	var out sales.Quote
	err := r.db.WithTx(ctx, func(ctx context.Context, _ pgx.Tx) error {
		q, err := r.Sales.QuoteGet(ctx, quote)
		if err != nil {
			return err
		}
		if q.IssuedAt != nil {
			return fault.New(fault.Conflict, "This quote was issued already, as %s. Revise it, then change the draft.", q.Name())
		}
		if version != 0 {
			q.Version = version
		}
		if err := change(ctx, &q); err != nil {
			return err
		}
		out, err = r.Sales.QuotePut(ctx, q)
		return err
	})
	return out, err
}
