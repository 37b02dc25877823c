package sales

import (
	"encoding/json"
	"time"

	"github.com/shopspring/decimal"

	"kerfbook/internal/fault"
)

// The states of a quote, as contract law names them.
const (
	Draft     = "draft"
	Issued    = "issued"
	Accepted  = "accepted"
	Declined  = "declined"
	Lapsed    = "lapsed"
	Withdrawn = "withdrawn"
)

// Quote is an offer with one or more alternatives; a draft until it is issued.
type Quote struct {
	ID               int64      `db:"id"`
	Version          int        `db:"version"`
	MadeAt           time.Time  `db:"made_at"`
	Number           *string    `db:"number"`
	Revision         int        `db:"revision"`
	RevisesID        *int64     `db:"revises_id"`
	PartyID          int64      `db:"party_id"`
	SiteID           *int64     `db:"site_id"`
	EnquiryID        *int64     `db:"enquiry_id"`
	VariesOrderID    *int64     `db:"varies_order_id"`
	Intro            string     `db:"intro"`
	ValidUntil       *time.Time `db:"valid_until"`
	DateAtAcceptance bool       `db:"date_at_acceptance"`
	DepositMinor     int64      `db:"deposit_minor"`
	IssuedAt         *time.Time `db:"issued_at"`
	DocumentID       *int64     `db:"document_id"`
	ThrownAwayAt     *time.Time `db:"thrown_away_at"`

	EventKind   *string    `db:"event_kind"` // accepted, declined, withdrawn, revised
	EventAt     *time.Time `db:"event_at"`
	EventNote   *string    `db:"event_note"`
	EventAltID  *int64     `db:"event_alternative_id"`
	OrderID     *int64     `db:"order_id"`    // the order it became
	PartyName   string     `db:"party_name"`  // as it is called today
	PriceMinor  int64      `db:"price_minor"` // of the first alternative, with tax
	FrozenJSON  []byte     `db:"frozen"`      // what was issued; empty for drafts
	RevisedByID *int64     `db:"revised_by_id"`

	Alternatives []Alternative `db:"-"`
}

// State is one of the six states on a business day. Lapsed is computed: an issued
// quote that nobody answered until its last day.
func (q Quote) State(today time.Time) string {
	switch {
	case q.IssuedAt == nil:
		return Draft
	case q.EventKind != nil && *q.EventKind == "revised":
		return Withdrawn
	case q.EventKind != nil:
		return *q.EventKind
	case q.ValidUntil != nil && q.ValidUntil.Before(today):
		return Lapsed
	}
	return Issued
}

// Name is number and revision as they are written, such as Q0012 or Q0012 rev 2;
// "Draft" before it is issued.
func (q Quote) Name() string {
	if q.Number == nil {
		return "Draft"
	}
	return quoteName(*q.Number, q.Revision)
}

func quoteName(number string, revision int) string {
	if revision == 1 {
		return number
	}
	return number + " rev " + decimal.NewFromInt(int64(revision)).String()
}

// DepositFor is the deposit that confirms an order of a price with tax on this quote: that
// of the first alternative, in proportion, rounded half up to a whole unit of currency
// when the deposit is one.
func (q Quote) DepositFor(priceMinor int64) int64 {
	whole := q.DepositMinor
	if len(q.Alternatives) > 0 && q.Alternatives[0].PriceMinor > 0 && priceMinor != q.Alternatives[0].PriceMinor {
		step := int64(1)
		if q.DepositMinor%wholeUnit == 0 {
			step = wholeUnit
		}
		share := decimal.NewFromInt(q.DepositMinor).Mul(decimal.NewFromInt(priceMinor)).Div(decimal.NewFromInt(q.Alternatives[0].PriceMinor))
		whole = share.Div(decimal.NewFromInt(step)).Round(0).IntPart() * step
	}
	return min(whole, priceMinor)
}

// wholeUnit is a whole dollar in cents, the step that deposits are asked in.
const wholeUnit = 100

// Alternative is one way to have it.
type Alternative struct {
	ID              int64      `db:"id"`
	QuoteID         int64      `db:"quote_id"`
	Letter          string     `db:"letter"`
	Title           string     `db:"title"`
	WishJSON        []byte     `db:"wish"`
	BoxOn           *time.Time `db:"box_on"`
	ColonyOn        *time.Time `db:"colony_on"`
	PriceExTaxMinor int64      `db:"price_ex_tax_minor"`
	TaxMinor        int64      `db:"tax_minor"`
	PriceMinor      int64      `db:"price_minor"` // with tax
	CostMinor       int64      `db:"cost_minor"`  // today's cost; never on a buyer's paper
	Lines           []Line     `db:"-"`
}

// Wish is the question that the alternative was worked out from.
func (a Alternative) Wish() Wish {
	var w Wish
	_ = json.Unmarshal(a.WishJSON, &w) // written by SetWish; anything else reads as no wish
	return w
}

// SetWish keeps the question with the alternative.
func (a *Alternative) SetWish(w Wish) { a.WishJSON = wishJSON(w) }

// Line is a line of a quote's alternative or of an order.
type Line struct {
	ID              int64           `db:"id"`
	AlternativeID   int64           `db:"alternative_id"` // quotes only
	Position        int             `db:"position"`
	Kind            string          `db:"kind"` // box, section, part, goods, colony, service, timber, text
	Description     string          `db:"description"`
	Quantity        decimal.Decimal `db:"quantity"`
	UnitPriceMinor  int64           `db:"unit_price_minor"` // each, ex tax
	TaxCode         string          `db:"tax_code"`
	TaxPct          decimal.Decimal `db:"tax_pct"`
	PriceExTaxMinor int64           `db:"price_ex_tax_minor"`
	TaxMinor        int64           `db:"tax_minor"`
	PriceMinor      int64           `db:"price_minor"` // of the line, with tax
	CostMinor       int64           `db:"cost_minor"`  // of the line
	ModelRevisionID *int64          `db:"model_revision_id"`
	TimberSpeciesID *int64          `db:"timber_species_id"`
	BeeSpeciesID    *int64          `db:"bee_species_id"`
	ItemID          *int64          `db:"item_id"`
	ServiceID       *int64          `db:"service_id"`
	Added           bool            `db:"added"` // quotes only: put there by hand
	WithColony      bool            `db:"with_colony"`
	OptionsJSON     []byte          `db:"options"` // list of option ids
	NeedsJSON       []byte          `db:"needs"`   // parts, board metres, fittings, minutes, costs as worked out
	BoxOn           *time.Time      `db:"box_on"`
	ColonyOn        *time.Time      `db:"colony_on"`
}

// Options are the ids of the options chosen.
func (l Line) Options() []int64 {
	var ids []int64
	_ = json.Unmarshal(l.OptionsJSON, &ids) // written by SetOptions; anything else reads as none
	return ids
}

// SetOptions keeps the ids of the options chosen.
func (l *Line) SetOptions(ids []int64) {
	l.OptionsJSON = []byte("[]")
	if len(ids) > 0 {
		l.OptionsJSON, _ = json.Marshal(ids) // whole numbers always encode
	}
}

var lineKinds = map[string]bool{"box": true, "section": true, "part": true, "goods": true, "colony": true, "service": true, "timber": true, "text": true}

// counts reports whether a line of this kind has one unit a piece.
func countsPieces(kind string) bool {
	return kind == "box" || kind == "section" || kind == "part" || kind == "colony" || kind == "goods"
}

// MaxPieces is the most pieces that one line can have.
const MaxPieces = 500

func checkLine(l *fault.List, p string, v *Line, today time.Time) {
	if v.TaxCode == "" {
		v.TaxCode = "standard"
	}
	if len(v.OptionsJSON) == 0 {
		v.OptionsJSON = []byte("[]")
	}
	if len(v.NeedsJSON) == 0 {
		v.NeedsJSON = []byte("{}")
	}
	l.Check(lineKinds[v.Kind], p+"/kind", "Must be box, section, part, goods, colony, service, timber or text.")
	l.Check(v.Description != "", p+"/description", "Say what it is.")
	checkWords(l, p+"/description", v.Description)
	l.Check(v.Quantity.IsPositive(), p+"/quantity", "The quantity must be more than nothing.")
	l.Check(v.Quantity.LessThanOrEqual(decimal.NewFromInt(100000)), p+"/quantity", "This is too many for one line.")
	if countsPieces(v.Kind) {
		l.Check(v.Quantity.IsInteger(), p+"/quantity", "Pieces are counted in whole numbers.")
		l.Check(v.Quantity.LessThanOrEqual(decimal.NewFromInt(MaxPieces)), p+"/quantity", "One line holds at most %d pieces. Use several lines.", MaxPieces)
	}
	for _, m := range []struct {
		at string
		v  int64
	}{{"/unit_price_minor", v.UnitPriceMinor}, {"/price_ex_tax_minor", v.PriceExTaxMinor}, {"/tax_minor", v.TaxMinor}, {"/cost_minor", v.CostMinor}} {
		checkMoney(l, p+m.at, m.v)
	}
	l.Check(v.PriceMinor == v.PriceExTaxMinor+v.TaxMinor, p+"/price_minor", "The price with tax is the price ex tax plus the tax.")
	l.Check(v.TaxPct.GreaterThanOrEqual(decimal.Zero) && v.TaxPct.LessThanOrEqual(decimal.NewFromInt(100)), p+"/tax_pct", "A tax rate lies between 0 and 100 percent.")
	notPast(l, p+"/box_on", v.BoxOn, today)
	notPast(l, p+"/colony_on", v.ColonyOn, today)
}

// total adds up the lines of a.
func (a *Alternative) total() {
	a.PriceExTaxMinor, a.TaxMinor, a.PriceMinor, a.CostMinor = 0, 0, 0, 0
	for _, l := range a.Lines {
		a.PriceExTaxMinor += l.PriceExTaxMinor
		a.TaxMinor += l.TaxMinor
		a.PriceMinor += l.PriceMinor
		a.CostMinor += l.CostMinor
	}
}

func (q *Quote) check(today time.Time) error {
	var l fault.List
	l.Check(q.PartyID != 0, "/party_id", "Say who the quote is for.")
	l.Check(len(q.Alternatives) > 0, "/alternatives", "A quote needs at least one alternative.")
	l.Check(len(q.Alternatives) <= 6, "/alternatives", "Six alternatives are as many as a buyer can choose from.")
	checkProse(&l, "/intro", q.Intro)
	checkMoney(&l, "/deposit_minor", q.DepositMinor)
	notPast(&l, "/valid_until", q.ValidUntil, today)
	for i := range q.Alternatives {
		a := &q.Alternatives[i]
		p := "/alternatives/" + decimal.NewFromInt(int64(i)).String()
		a.Letter = string(rune('A' + i))
		if len(a.WishJSON) == 0 {
			a.WishJSON = []byte("{}")
		}
		checkWords(&l, p+"/title", a.Title)
		l.Check(len(a.Lines) > 0, p+"/lines", "An alternative needs at least one line.")
		l.Check(len(a.Lines) <= 100, p+"/lines", "An alternative holds at most 100 lines.")
		for j := range a.Lines {
			a.Lines[j].Position = j + 1
			checkLine(&l, p+"/lines/"+decimal.NewFromInt(int64(j)).String(), &a.Lines[j], today)
		}
		notPast(&l, p+"/box_on", a.BoxOn, today)
		notPast(&l, p+"/colony_on", a.ColonyOn, today)
		a.total()
	}
	return l.Err()
}
