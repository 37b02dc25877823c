package answer

import (
	"context"

	"kerfbook/internal/sales"
)

// AlternativeAdd works a wish out and adds it to a draft quote as a further alternative;
// version is that of the draft, 0 for whatever it is. Without a title it has that of the
// answer. Errors: Conflict when the quote is issued or nothing can be offered, Stale,
// NotFound, Invalid beyond six alternatives.
func (r *Room) AlternativeAdd(ctx context.Context, quote int64, version int, wish sales.Wish, title string) (sales.Quote, error) {
	return r.changeDraft(ctx, quote, version, func(ctx context.Context, q *sales.Quote) error {
		a, err := r.alternative(ctx, Draft{PartyID: q.PartyID, SiteID: q.SiteID}, wish)
		if err != nil {
			return err
		}
		if title != "" {
			a.Title = title
		}
		q.Alternatives = append(q.Alternatives, a)
		return nil
	})
}
