package sales

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// QuotePut stores a draft with its alternatives: new when q.ID is 0, else in place of
// version q.Version. Totals are added up here. Errors: Conflict when it was issued.
func (r *Room) QuotePut(ctx context.Context, q Quote) (Quote, error) {
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		today, _, err := r.today(ctx, tx)
		if err != nil {
			return err
		}
		if err := q.check(today); err != nil {
			return err
		}
		if q.Revision == 0 {
			q.Revision = 1
		}
		args := []any{q.PartyID, q.SiteID, q.EnquiryID, q.VariesOrderID, q.Intro, q.ValidUntil, q.DateAtAcceptance, q.DepositMinor}
		if q.ID == 0 {
			err = tx.QueryRow(ctx, `INSERT INTO quote (party_id, site_id, enquiry_id, varies_order_id, intro, valid_until, date_at_acceptance, deposit_minor, revision, revises_id)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10) RETURNING id, version, made_at`, append(args, q.Revision, q.RevisesID)...).Scan(&q.ID, &q.Version, &q.MadeAt)
		} else {
			err = tx.QueryRow(ctx, `UPDATE quote SET party_id = $1, site_id = $2, enquiry_id = $3, varies_order_id = $4, intro = $5, valid_until = $6, date_at_acceptance = $7, deposit_minor = $8
WHERE id = $9 AND version = $10 RETURNING version, made_at`, append(args, q.ID, q.Version)...).Scan(&q.Version, &q.MadeAt)
			err = postgres.StaleOr(ctx, tx, err, "quote", q.ID)
		}
		if err != nil {
			return err
		}
		return putAlternatives(ctx, tx, &q)
	})
	if err != nil {
		return q, err
	}
	return r.QuoteGet(ctx, q.ID)
}

func putAlternatives(ctx context.Context, tx pgx.Tx, q *Quote) error {
	if _, err := tx.Exec(ctx, `DELETE FROM quote_alternative WHERE quote_id = $1`, q.ID); err != nil {
		return err
	}
	for i := range q.Alternatives {
		a := &q.Alternatives[i]
		a.QuoteID = q.ID
		if err := tx.QueryRow(ctx, `INSERT INTO quote_alternative (quote_id, letter, title, wish, box_on, colony_on, price_ex_tax_minor, tax_minor, price_minor, cost_minor)
VALUES ($1, $2, $3, $4::jsonb, $5, $6, $7, $8, $9, $10) RETURNING id`,
			q.ID, a.Letter, a.Title, string(a.WishJSON), a.BoxOn, a.ColonyOn, a.PriceExTaxMinor, a.TaxMinor, a.PriceMinor, a.CostMinor).Scan(&a.ID); err != nil {
			return err
		}
		for j := range a.Lines {
			l := &a.Lines[j]
			l.AlternativeID = a.ID
			if err := tx.QueryRow(ctx, `INSERT INTO quote_line (alternative_id, position, kind, description, quantity, unit_price_minor, tax_code, tax_pct, price_ex_tax_minor, tax_minor,
	price_minor, cost_minor, model_revision_id, timber_species_id, bee_species_id, item_id, with_colony, options, needs, box_on, colony_on, service_id, added)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18::jsonb, $19::jsonb, $20, $21, $22, $23) RETURNING id`,
				a.ID, l.Position, l.Kind, l.Description, l.Quantity, l.UnitPriceMinor, l.TaxCode, l.TaxPct, l.PriceExTaxMinor, l.TaxMinor, l.PriceMinor, l.CostMinor,
				l.ModelRevisionID, l.TimberSpeciesID, l.BeeSpeciesID, l.ItemID, l.WithColony, string(l.OptionsJSON), string(l.NeedsJSON), l.BoxOn, l.ColonyOn, l.ServiceID, l.Added).Scan(&l.ID); err != nil {
				return err
			}
		}
	}
	return nil
}

const quoteSelect = `SELECT q.id, q.version, q.made_at, q.number, q.revision, q.revises_id, q.party_id, q.site_id, q.enquiry_id, q.varies_order_id, q.intro, q.valid_until,
	q.date_at_acceptance, q.deposit_minor, q.issued_at, q.document_id, q.thrown_away_at, e.kind AS event_kind, e.happened_at AS event_at, e.note AS event_note,
	e.alternative_id AS event_alternative_id, o.id AS order_id, coalesce(nullif(p.name, ''), (SELECT c.value FROM contact c WHERE c.party_id = p.id AND c.put_away_at IS NULL ORDER BY c.id LIMIT 1), 'Nameless') AS party_name,
	coalesce((SELECT a.price_minor FROM quote_alternative a WHERE a.quote_id = q.id ORDER BY a.letter LIMIT 1), 0) AS price_minor, q.frozen,
	(SELECT n.id FROM quote n WHERE n.revises_id = q.id AND n.thrown_away_at IS NULL ORDER BY n.id DESC LIMIT 1) AS revised_by_id
FROM quote q JOIN party p ON p.id = q.party_id LEFT JOIN quote_event e ON e.quote_id = q.id LEFT JOIN sale_order o ON o.quote_id = q.id `

// QuoteGet reads a quote with alternatives and lines.
func (r *Room) QuoteGet(ctx context.Context, id int64) (Quote, error) { return quoteIn(ctx, r.db, id) }

func quoteIn(ctx context.Context, db postgres.Querier, id int64) (Quote, error) {
	q, err := postgres.One[Quote](ctx, db, quoteSelect+`WHERE q.id = $1`, id)
	if err != nil {
		return q, postgres.Translate(err)
	}
	if q.Alternatives, err = postgres.List[Alternative](ctx, db, `SELECT id, quote_id, letter, title, wish, box_on, colony_on, price_ex_tax_minor, tax_minor, price_minor, cost_minor
FROM quote_alternative WHERE quote_id = $1 ORDER BY letter`, id); err != nil {
		return q, err
	}
	lines, err := postgres.List[Line](ctx, db, `SELECT l.id, l.alternative_id, l.position, l.kind, l.description, l.quantity, l.unit_price_minor, l.tax_code, l.tax_pct, l.price_ex_tax_minor, l.tax_minor,
	l.price_minor, l.cost_minor, l.model_revision_id, l.timber_species_id, l.bee_species_id, l.item_id, l.with_colony, l.options, l.needs, l.box_on, l.colony_on, l.service_id, l.added
FROM quote_line l JOIN quote_alternative a ON a.id = l.alternative_id WHERE a.quote_id = $1 ORDER BY a.letter, l.position`, id)
	for _, l := range lines {
		for i := range q.Alternatives {
			if q.Alternatives[i].ID == l.AlternativeID {
				q.Alternatives[i].Lines = append(q.Alternatives[i].Lines, l)
			}
		}
	}
	return q, err
}

// lockQuote reads a quote whose row stays locked until the transaction ends.
func lockQuote(ctx context.Context, tx pgx.Tx, id int64) (Quote, error) {
	var got int64
	if err := tx.QueryRow(ctx, `SELECT id FROM quote WHERE id = $1 FOR UPDATE`, id).Scan(&got); err != nil {
		return Quote{}, postgres.Translate(err)
	}
	return quoteIn(ctx, tx, id)
}

// FreezeFunc makes what is frozen and the paper of a quote that is about to be issued
// under its number; issuedAt is the instant that the paper bears.
type FreezeFunc func(ctx context.Context, q Quote, issuedAt time.Time) (frozen any, pdf []byte, err error)

// QuoteIssue issues the draft id, version version: it gets its number, what freeze
// gives is kept, and an earlier revision that is still open ends as revised.
func (r *Room) QuoteIssue(ctx context.Context, id int64, version int, freeze FreezeFunc) (Quote, error) {
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		today, set, err := r.today(ctx, tx)
		if err != nil {
			return err
		}
		q, err := lockQuote(ctx, tx, id)
		if err != nil {
			return err
		}
		if err := issuable(&q, version, today, set.QuoteValidDays); err != nil {
			return err
		}
		if err := numberQuote(ctx, tx, &q); err != nil {
			return err
		}
		now := r.db.Now()
		frozen, pdf, err := freeze(ctx, q, now)
		if err != nil {
			return err
		}
		body, err := json.Marshal(frozen)
		if err != nil {
			return fmt.Errorf("freeze quote %s: %w", *q.Number, err)
		}
		doc, err := house.PaperKeep(ctx, tx, "quote", *q.Number, q.Revision, now, pdf)
		if err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, `UPDATE quote SET number = $2, valid_until = $3, issued_at = $4, frozen = $5::jsonb, document_id = $6 WHERE id = $1`,
			id, q.Number, q.ValidUntil, now, string(body), doc); err != nil {
			return err
		}
		if q.RevisesID == nil {
			return nil
		}
		_, err = tx.Exec(ctx, `INSERT INTO quote_event (quote_id, kind, happened_at, note) SELECT $1, 'revised', $2, $3
WHERE NOT EXISTS (SELECT 1 FROM quote_event WHERE quote_id = $1)`, *q.RevisesID, now, "Revised as "+q.Name())
		return err
	})
	if err != nil {
		return Quote{}, err
	}
	return r.QuoteGet(ctx, id)
}

func issuable(q *Quote, version int, today time.Time, validDays int) error {
	switch {
	case q.IssuedAt != nil:
		return fault.New(fault.Conflict, "This quote was issued already, as %s.", q.Name())
	case q.ThrownAwayAt != nil:
		return fault.New(fault.Conflict, "This draft was thrown away.")
	case version != 0 && q.Version != version:
		return fault.New(fault.Stale, "Somebody changed this draft in the meantime. Look at it again, then issue it.")
	}
	if q.ValidUntil == nil {
		until := today.AddDate(0, 0, validDays)
		q.ValidUntil = &until
	}
	return q.check(today)
}

func numberQuote(ctx context.Context, tx pgx.Tx, q *Quote) error {
	if q.RevisesID == nil {
		n, err := house.Number(ctx, tx, "quote", "Q")
		q.Number = &n
		return err
	}
	var number string
	if err := tx.QueryRow(ctx, `SELECT number FROM quote WHERE id = $1 AND number IS NOT NULL FOR UPDATE`, *q.RevisesID).Scan(&number); err != nil {
		return err
	}
	q.Number = &number
	return nil
}

// QuoteEnd notes that an issued quote was declined or withdrawn.
func (r *Room) QuoteEnd(ctx context.Context, id int64, kind, note string) error {
	if kind != Declined && kind != Withdrawn {
		return fault.Bad("/kind", "Must be declined or withdrawn.")
	}
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		q, err := lockQuote(ctx, tx, id)
		if err != nil {
			return err
		}
		if q.IssuedAt == nil {
			return fault.New(fault.Conflict, "A draft is thrown away, not %s.", kind)
		}
		_, err = tx.Exec(ctx, `INSERT INTO quote_event (quote_id, kind, happened_at, note) VALUES ($1, $2, $3, $4)`, id, kind, r.db.Now(), strings.TrimSpace(note))
		return err
	})
}

// QuoteThrowAway puts a draft away.
func (r *Room) QuoteThrowAway(ctx context.Context, id int64) error {
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		q, err := lockQuote(ctx, tx, id)
		if err != nil {
			return err
		}
		if q.IssuedAt != nil {
			return fault.New(fault.Conflict, "An issued quote stays. Withdraw it instead.")
		}
		_, err = tx.Exec(ctx, `UPDATE quote SET thrown_away_at = $2 WHERE id = $1`, id, r.db.Now())
		return err
	})
}

// QuoteRevise makes a draft of the next revision from an issued quote. Promised and
// valid-until days that are past by now are left open, to be worked out anew.
func (r *Room) QuoteRevise(ctx context.Context, id int64) (Quote, error) {
	var next Quote
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		today, _, err := r.today(ctx, tx)
		if err != nil {
			return err
		}
		q, err := lockQuote(ctx, tx, id)
		if err != nil {
			return err
		}
		switch {
		case q.IssuedAt == nil:
			return fault.New(fault.Conflict, "A draft can simply be changed.")
		case q.EventKind != nil && *q.EventKind == Accepted:
			return fault.New(fault.Conflict, "This quote was accepted. Vary the order instead.")
		case q.RevisedByID != nil:
			return fault.New(fault.Conflict, "There is a later revision of this quote already.")
		}
		next = q
		next.ID, next.Version, next.RevisesID, next.Number, next.IssuedAt, next.ValidUntil = 0, 0, &id, nil, nil, nil
		if err := tx.QueryRow(ctx, `SELECT max(revision) + 1 FROM quote WHERE number = $1`, q.Number).Scan(&next.Revision); err != nil {
			return err
		}
		for i := range next.Alternatives {
			a := &next.Alternatives[i]
			a.BoxOn, a.ColonyOn = stillToCome(a.BoxOn, today), stillToCome(a.ColonyOn, today)
			for j := range a.Lines {
				a.Lines[j].BoxOn, a.Lines[j].ColonyOn = stillToCome(a.Lines[j].BoxOn, today), stillToCome(a.Lines[j].ColonyOn, today)
			}
		}
		next, err = r.QuotePut(ctx, next)
		return err
	})
	if err != nil {
		return Quote{}, err
	}
	return r.QuoteGet(ctx, next.ID)
}

func stillToCome(day *time.Time, today time.Time) *time.Time {
	if day != nil && day.Before(today) {
		return nil
	}
	return day
}

// Acceptance says what of a quote is taken.
type Acceptance struct {
	QuoteID       int64
	AlternativeID int64                     // 0: the only one
	Lines         map[int64]decimal.Decimal // by line id; nil: all of the alternative
	HappenedAt    time.Time                 // zero: now
	Note          string
	TheirNumber   string
}

// QuoteAccept takes one alternative of an issued quote, whole or in part, and makes
// the order of it. Errors: Conflict when it is answered, lapsed or not issued.
func (r *Room) QuoteAccept(ctx context.Context, a Acceptance) (Order, error) {
	var order Order
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		today, set, err := r.today(ctx, tx)
		if err != nil {
			return err
		}
		q, err := lockQuote(ctx, tx, a.QuoteID)
		if err != nil {
			return err
		}
		if a.HappenedAt.IsZero() {
			a.HappenedAt = r.db.Now()
		}
		if err := acceptable(q, a.HappenedAt, set.Location(), today); err != nil {
			return err
		}
		alt, lines, err := chosen(q, a)
		if err != nil {
			return err
		}
		part := any(nil)
		if a.Lines != nil {
			b, err := json.Marshal(a.Lines)
			if err != nil {
				return fmt.Errorf("note accepted lines: %w", err)
			}
			part = string(b)
		}
		if _, err := tx.Exec(ctx, `INSERT INTO quote_event (quote_id, kind, alternative_id, happened_at, note, accepted_lines) VALUES ($1, 'accepted', $2, $3, $4, $5::jsonb)`,
			q.ID, alt.ID, a.HappenedAt, a.Note, part); err != nil {
			return err
		}
		if q.VariesOrderID != nil {
			order, err = r.vary(ctx, tx, *q.VariesOrderID, lines, q, alt.Wish().OwnBox)
			return err
		}
		order, err = r.orderMake(ctx, tx, NewOrder{PartyID: q.PartyID, SiteID: q.SiteID, QuoteID: &q.ID, HappenedAt: a.HappenedAt, DepositMinor: q.DepositFor(sum(lines)), Lines: lines, TheirNumber: a.TheirNumber, OwnBox: alt.Wish().OwnBox})
		return err
	})
	if err != nil {
		return Order{}, err
	}
	return r.OrderGet(ctx, order.ID)
}

func sum(lines []Line) int64 {
	var s int64
	for _, l := range lines {
		s += l.PriceMinor
	}
	return s
}

func acceptable(q Quote, at time.Time, loc *time.Location, today time.Time) error {
	switch {
	case q.IssuedAt == nil:
		return fault.New(fault.Conflict, "This quote was not issued yet. Issue it first.")
	case q.EventKind != nil:
		return fault.New(fault.Conflict, "This quote has already been answered: %s. Look at it again.", q.State(today))
	case house.DateIn(at, loc).After(today):
		return fault.Bad("/happened_at", "A yes cannot have come in the future.")
	case q.ValidUntil.Before(house.DateIn(at, loc)):
		return fault.New(fault.Conflict, "This quote ran out on %s. Re-issue it with the dates checked, then accept that one.", q.ValidUntil.Format("2 January 2006"))
	}
	return nil
}

func chosen(q Quote, a Acceptance) (Alternative, []Line, error) {
	var alt *Alternative
	for i := range q.Alternatives {
		if q.Alternatives[i].ID == a.AlternativeID || (a.AlternativeID == 0 && len(q.Alternatives) == 1) {
			alt = &q.Alternatives[i]
		}
	}
	if alt == nil {
		return Alternative{}, nil, fault.Bad("/alternative_id", "Say which of the alternatives is taken.")
	}
	if a.Lines == nil {
		return *alt, alt.Lines, nil
	}
	var lines []Line
	known := map[int64]bool{}
	for _, l := range alt.Lines {
		known[l.ID] = true
		n, ok := a.Lines[l.ID]
		switch {
		case !ok || n.IsZero():
			continue
		case n.IsNegative() || n.GreaterThan(l.Quantity) || (countsPieces(l.Kind) && !n.IsInteger()):
			return *alt, nil, fault.Bad("/lines", "Of %q at most %s can be taken.", l.Description, l.Quantity)
		}
		lines = append(lines, portion(l, n))
	}
	for id := range a.Lines {
		if !known[id] {
			return *alt, nil, fault.Bad("/lines", "A line that is taken does not belong to this alternative.")
		}
	}
	if len(lines) == 0 {
		return *alt, nil, fault.Bad("/lines", "Nothing is taken. Decline the quote instead.")
	}
	return *alt, lines, nil
}

// portion is n of a line, each amount in proportion, rounded half away from zero; tax
// is worked out once a line.
func portion(l Line, n decimal.Decimal) Line {
	share := func(minor int64) int64 {
		return decimal.NewFromInt(minor).Mul(n).Div(l.Quantity).Round(0).IntPart()
	}
	l.PriceExTaxMinor, l.CostMinor = share(l.PriceExTaxMinor), share(l.CostMinor)
	l.TaxMinor = share(l.TaxMinor)
	l.PriceMinor = l.PriceExTaxMinor + l.TaxMinor
	l.Quantity = n
	return l
}

// QuoteFilter says which quotes a list holds.
type QuoteFilter struct {
	State   string // "" for all, else one of the six states
	PartyID int64
	Find    string // words of the party's name, or a quote number
	Limit   int
	After   string
}

// QuoteList gives quotes without their lines from the newest, and the next cursor.
func (r *Room) QuoteList(ctx context.Context, f QuoteFilter) ([]Quote, string, error) {
	at, id, err := cursorTime(f.After)
	if err != nil {
		return nil, "", err
	}
	today, _, err := r.today(ctx, r.db)
	if err != nil {
		return nil, "", err
	}
	n := postgres.PageSize(f.Limit)
	var w conditions // quote_when, quote_party, quote_valid and quote_number_once serve these
	w.and(`(q.made_at, q.id) < (?, ?)`, at, id)
	w.and(`q.thrown_away_at IS NULL`)
	if f.PartyID != 0 {
		w.and(`q.party_id = ?`, f.PartyID)
	}
	switch f.State {
	case "":
	case Draft:
		w.and(`q.issued_at IS NULL`)
	case Issued:
		w.and(`q.issued_at IS NOT NULL AND e.id IS NULL AND q.valid_until >= ?`, today)
	case Lapsed:
		w.and(`q.issued_at IS NOT NULL AND e.id IS NULL AND q.valid_until < ?`, today)
	case Withdrawn:
		w.and(`e.kind IN ('withdrawn', 'revised')`)
	case Accepted, Declined:
		w.and(`e.kind = ?`, f.State)
	default:
		return nil, "", fault.Bad("/state", "Must be draft, issued, accepted, declined, lapsed or withdrawn.")
	}
	if find := strings.ToUpper(strings.TrimSpace(f.Find)); strings.HasPrefix(find, "Q") && digits(find) != "" {
		w.and(`q.number = ?`, strings.Fields(find)[0])
	} else if words := findQuery(f.Find); words != "" {
		if err := w.andWords(ctx, r.db, "party", "q.party_id", "p.find", words); err != nil {
			return nil, "", err
		}
	}
	list, err := postgres.List[Quote](ctx, r.db, quoteSelect+`WHERE `+w.String()+fmt.Sprintf(` ORDER BY q.made_at DESC, q.id DESC LIMIT %d`, n+1), w.args...)
	list, next := postgres.CutPage(list, n, func(v Quote) postgres.Mark { return timeMark(v.MadeAt, v.ID) })
	return list, next, err
}

// QuotesHolding gives the issued quotes that nobody answered and that hold their place
// on day: their alternatives' lines say what they hold. At most 200, oldest first.
func (r *Room) QuotesHolding(ctx context.Context, day time.Time) ([]Quote, error) {
	list, err := postgres.List[Quote](ctx, r.db, quoteSelect+`WHERE q.issued_at IS NOT NULL AND e.id IS NULL AND q.valid_until >= $1 AND NOT q.date_at_acceptance ORDER BY q.id LIMIT 200`, day)
	return list, postgres.Translate(err)
}

// QuotesRunningOut gives issued, unanswered quotes whose last day lies between two days.
func (r *Room) QuotesRunningOut(ctx context.Context, from, to time.Time) ([]Quote, error) {
	list, err := postgres.List[Quote](ctx, r.db, quoteSelect+`WHERE q.issued_at IS NOT NULL AND e.id IS NULL AND q.valid_until BETWEEN $1 AND $2 ORDER BY q.valid_until, q.id LIMIT 200`, from, to)
	return list, postgres.Translate(err)
}
