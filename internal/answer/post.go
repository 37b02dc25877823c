package answer

import (
	"context"
	"fmt"
	"slices"

	"kerfbook/internal/fault"
	"kerfbook/internal/mail"
	"kerfbook/internal/postgres"
)

// MailPapers are the papers that can go out by mail.
var MailPapers = []string{"quote", "order", "invoice", "receipt", "handover", "site"}

// Letter is a mail as it would be written: to whom, and the usual words.
type Letter struct{ To, Subject, Body string }

// buyersOf finds whose paper it is.
var buyersOf = map[string]string{
	"quote":    `SELECT q.party_id FROM quote q WHERE q.number = split_part($1, ' ', 1) LIMIT 1`,
	"order":    `SELECT party_id FROM sale_order WHERE number = $1`,
	"site":     `SELECT party_id FROM sale_order WHERE number = $1`,
	"invoice":  `SELECT party_id FROM invoice WHERE number = $1`,
	"receipt":  `SELECT o.party_id FROM payment y JOIN sale_order o ON o.id = y.order_id WHERE y.number = $1`,
	"handover": `SELECT o.party_id FROM handover h JOIN order_unit u ON u.id = h.order_unit_id JOIN order_line l ON l.id = u.order_line_id JOIN sale_order o ON o.id = l.order_id WHERE h.number = $1`,
}

var paperWords = map[string]string{"quote": "quote", "order": "order", "site": "site sheet for order", "invoice": "invoice", "receipt": "receipt", "handover": "handover sheet"}

// LetterOf writes the usual words for a paper to its buyer. Errors: Invalid for a paper
// that cannot be mailed, NotFound.
func (r *Room) LetterOf(ctx context.Context, kind, number string) (Letter, error) {
	if !slices.Contains(MailPapers, kind) {
		return Letter{}, fault.Bad("/paper", "This paper cannot be mailed. Choose quote, order, invoice, receipt, handover or site.")
	}
	party, err := postgres.Value[int64](ctx, r.db, buyersOf[kind], number)
	if fault.Is(err, fault.NotFound) {
		return Letter{}, fault.New(fault.NotFound, "There is no %s %s.", paperWords[kind], number)
	}
	if err != nil {
		return Letter{}, err
	}
	p, err := r.Sales.PartyGet(ctx, party)
	if err != nil {
		return Letter{}, err
	}
	set, _, err := r.settings(ctx)
	if err != nil {
		return Letter{}, err
	}
	l := Letter{To: p.Email(), Subject: fmt.Sprintf("%s: %s %s", set.Name, paperWords[kind], number)}
	l.Body = fmt.Sprintf("Dear %s,\n\nhere is the %s %s.\n", p.Called(), paperWords[kind], number)
	if set.Phone != "" {
		l.Body += "If anything is not as it should be, ring " + set.Phone + ".\n"
	}
	l.Body += "\n" + set.MakerName + "\n" + set.Name + "\n"
	return l, nil
}

// MailPaper queues a paper as it is now to go out. Errors: as of LetterOf and mail.Queue.
func (r *Room) MailPaper(ctx context.Context, kind, number string, l Letter) (mail.Mail, error) {
	usual, err := r.LetterOf(ctx, kind, number)
	if err != nil {
		return mail.Mail{}, err
	}
	for _, one := range []struct{ have, want *string }{{&l.To, &usual.To}, {&l.Subject, &usual.Subject}, {&l.Body, &usual.Body}} {
		if *one.have == "" {
			*one.have = *one.want
		}
	}
	pdf, err := r.Paper(ctx, kind, number)
	if err != nil {
		return mail.Mail{}, err
	}
	return r.Mail.Queue(ctx, mail.Mail{Paper: kind, Number: number, To: l.To, Subject: l.Subject, Body: l.Body, PDF: pdf})
}
