package answer

import (
	"context"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/sales"
)

// AlternativeAdd works a wish out and adds it to a draft quote as a further alternative;
// version is that of the draft, 0 for whatever it is. Without a title it has that of the
// answer. Errors: Conflict when the quote is issued or nothing can be offered, Stale,
// NotFound, Invalid beyond six alternatives.
func (r *Room) AlternativeAdd(ctx context.Context, quote int64, version int, wish sales.Wish, title string) (sales.Quote, error) {
	var out sales.Quote
	err := r.db.WithTx(ctx, func(ctx context.Context, _ pgx.Tx) error {
		q, err := r.Sales.QuoteGet(ctx, quote)
		if err != nil {
			return err
		}
		if q.IssuedAt != nil {
			return fault.New(fault.Conflict, "This quote was issued already, as %s. Revise it, then add to the draft.", q.Name())
		}
		if version != 0 {
			q.Version = version
		}
		a, err := r.alternative(ctx, Draft{PartyID: q.PartyID, SiteID: q.SiteID}, wish)
		if err != nil {
			return err
		}
		if title != "" {
			a.Title = title
		}
		q.Alternatives = append(q.Alternatives, a)
		out, err = r.Sales.QuotePut(ctx, q)
		return err
	})
	return out, err
}
