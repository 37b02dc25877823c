package answer

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"kerfbook/internal/house"
	"kerfbook/internal/paper"
	"kerfbook/internal/sales"
	"kerfbook/internal/workshop"
)

// frozenQuote is all that an issued quote says and rests on.
type frozenQuote struct {
	Doc       paper.QuoteDoc      `json:"doc"`
	Revisions []workshop.Revision `json:"model_revisions"`
	Lines     [][]sales.Line      `json:"lines"` // of each alternative, with needs and costs
	Tax       house.TaxState      `json:"tax"`
	Settings  house.Settings      `json:"settings"`
}

// QuoteIssue issues the draft id, version version (0: whatever it is): it gets its
// number, everything it says is frozen, and the paper's bytes are kept. Errors: as of
// sales.QuoteIssue.
func (r *Room) QuoteIssue(ctx context.Context, id int64, version int) (sales.Quote, error) {
	return r.Sales.QuoteIssue(ctx, id, version, func(ctx context.Context, q sales.Quote, issuedAt time.Time) (any, []byte, error) {
		frozen, err := r.freeze(ctx, q, issuedAt)
		if err != nil {
			return nil, nil, err
		}
		pdf, err := paper.Quote(frozen.Doc)
		if err != nil {
			return nil, nil, fmt.Errorf("draw quote %s: %w", q.Name(), err)
		}
		frozen.Doc.Words = nil
		return frozen, pdf, nil
	})
}

// QuoteText gives a quote as a short text to copy: of an issued one, what was issued.
func (r *Room) QuoteText(ctx context.Context, id int64) (string, error) {
	q, err := r.Sales.QuoteGet(ctx, id)
	if err != nil {
		return "", err
	}
	doc, err := r.quoteDoc(ctx, q)
	if err != nil {
		return "", err
	}
	return paper.QuoteText(doc), nil
}

// quoteDoc is the paper of a quote: the frozen one, or of a draft as it would be.
func (r *Room) quoteDoc(ctx context.Context, q sales.Quote) (paper.QuoteDoc, error) {
	if q.IssuedAt != nil {
		var f frozenQuote
		if err := json.Unmarshal(q.FrozenJSON, &f); err == nil && f.Doc.Number != "" {
			return f.Doc, nil
		} // an older or foreign record: drawn from its rows
	}
	at := r.db.Now()
	if q.IssuedAt != nil {
		at = *q.IssuedAt
	}
	f, err := r.freeze(ctx, q, at)
	return f.Doc, err
}

func (r *Room) freeze(ctx context.Context, q sales.Quote, at time.Time) (frozenQuote, error) {
	set, _, err := r.settings(ctx)
	if err != nil {
		return frozenQuote{}, err
	}
	tax, err := house.TaxIn(ctx, r.db, set.Today(at))
	if err != nil {
		return frozenQuote{}, err
	}
	f := frozenQuote{Tax: tax, Settings: set}
	d := paper.QuoteDoc{Head: r.head(set, tax, q.Name(), at), Revision: q.Revision, Note: q.Intro, ConfirmAtAcceptance: q.DateAtAcceptance,
		NotIncluded: sentences(set.NotIncluded), Delays: sentences(set.CouldDelay), Guarantee: sentences(set.Guarantee), PayWays: payWays(set), Terms: sentences(set.Terms)}
	if q.Number != nil {
		d.Number = *q.Number
	}
	d.Words = r.wording(ctx, d.Number)
	if q.ValidUntil != nil {
		d.ValidUntil = paper.Day(*q.ValidUntil)
	}
	if d.Buyer, err = r.paperParty(ctx, q.PartyID); err != nil {
		return f, err
	}
	if d.Site, err = r.paperSite(ctx, q.SiteID); err != nil {
		return f, err
	}
	if d.Bees, err = r.QuoteOutOfRange(ctx, q); err != nil {
		return f, err
	}
	money := currency(set)
	for i, a := range q.Alternatives {
		alt := paper.Alternative{Letter: a.Letter, Title: a.Title, Lines: paperLines(money, a.Lines), EachHead: eachHead(tax), Totals: totals(money, tax, a.PriceExTaxMinor, a.TaxMinor, a.PriceMinor),
			NoTax: !tax.Registered, Promised: promisedWords(a.Lines, q.DateAtAcceptance)}
		if q.DepositMinor > 0 {
			alt.Deposit = money.Money(q.DepositFor(a.PriceMinor))
		}
		revs, drawing, err := r.drawingOf(ctx, a.Lines, i == 0 || len(q.Alternatives) <= 2)
		if err != nil {
			return f, err
		}
		alt.Drawing = drawing
		f.Revisions = append(f.Revisions, revs...)
		f.Lines = append(f.Lines, a.Lines)
		d.Alternatives = append(d.Alternatives, alt)
	}
	f.Doc = d
	return f, nil
}
