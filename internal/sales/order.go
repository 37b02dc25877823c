package sales

import (
	"strings"
	"time"

	"github.com/shopspring/decimal"

	"kerfbook/internal/fault"
)

// The states of an order, computed from its units.
const (
	OrderOpen       = "open"
	OrderPartly     = "partly handed over"
	OrderHandedOver = "handed over"
	OrderCancelled  = "cancelled"
)

// Order is what was agreed. Its state is computed from its units.
type Order struct {
	ID                   int64     `db:"id"`
	Version              int       `db:"version"`
	Number               string    `db:"number"`
	PartyID              int64     `db:"party_id"`
	SiteID               *int64    `db:"site_id"`
	QuoteID              *int64    `db:"quote_id"`
	HappenedAt           time.Time `db:"happened_at"`
	TheirNumber          string    `db:"their_number"`
	DepositMinor         int64     `db:"deposit_minor"` // asked for, with tax
	TypedIn              bool      `db:"typed_in"`
	DepositEnd           *string   `db:"deposit_end"`
	DepositReturnedMinor *int64    `db:"deposit_returned_minor"`
	Notes                string    `db:"notes"`

	PartyName  string     `db:"party_name"`
	PriceMinor int64      `db:"price_minor"` // of what is not cancelled less what adjustments lower it by, with tax
	Units      int        `db:"units"`       // all of them
	Done       int        `db:"done"`        // handed over
	Gone       int        `db:"gone"`        // cancelled
	NextOn     *time.Time `db:"next_on"`     // the earliest promise that is still to be kept
	PaidMinor  int64      `db:"paid_minor"`  // received less refunds

	Lines []OrderLine `db:"-"`
}

// State is computed from the units.
func (o Order) State() string {
	switch {
	case o.Units == o.Gone:
		return OrderCancelled
	case o.Done == o.Units-o.Gone:
		return OrderHandedOver
	case o.Done > 0:
		return OrderPartly
	}
	return OrderOpen
}

// BalanceMinor is what is still to be paid; negative is credit.
func (o Order) BalanceMinor() int64 { return o.PriceMinor - o.PaidMinor }

// OrderLine is a line of an order with its units.
type OrderLine struct {
	Line
	Version int
	OrderID int64
	Units   []Unit
}

// Unit is one piece of an order line; it goes its own way.
type Unit struct {
	ID               int64      `db:"id"`
	Version          int        `db:"version"`
	OrderLineID      int64      `db:"order_line_id"`
	N                int        `db:"n"`
	WantsBox         bool       `db:"wants_box"`
	WantsColony      bool       `db:"wants_colony"`
	OwnBox           bool       `db:"own_box"`
	PromisedBoxOn    *time.Time `db:"promised_box_on"`
	PromisedColonyOn *time.Time `db:"promised_colony_on"`
	SiteID           *int64     `db:"site_id"`
	HandedOverAt     *time.Time `db:"handed_over_at"`
	ReturnedAt       *time.Time `db:"returned_at"`
	CancelledAt      *time.Time `db:"cancelled_at"`
	CancelledBecause string     `db:"cancelled_because"`

	BoxID        *int64  `db:"box_id"` // put aside for it, or handed over with it
	BoxSerial    *string `db:"box_serial"`
	ColonyID     *int64  `db:"colony_id"`
	ColonyNumber *string `db:"colony_number"`
	BuildID      *int64  `db:"build_id"` // the open build that makes its box
	BuildNumber  *string `db:"build_number"`
}

// Open reports whether the unit is still to be handed over.
func (u Unit) Open() bool { return u.HandedOverAt == nil && u.CancelledAt == nil }

// Ready reports whether everything the unit waits for is put aside for it.
func (u Unit) Ready() bool {
	return u.Open() && (!u.WantsBox || u.OwnBox || u.BoxID != nil) && (!u.WantsColony || u.ColonyID != nil)
}

// State says in a word how far the unit is.
func (u Unit) State() string {
	switch {
	case u.CancelledAt != nil:
		return "cancelled"
	case u.ReturnedAt != nil:
		return "returned"
	case u.HandedOverAt != nil:
		return "handed over"
	case u.Ready():
		return "ready"
	case u.BuildID != nil:
		return "on the bench"
	case u.WantsBox && u.BoxID == nil && !u.OwnBox:
		return "to be built"
	}
	return "waits for bees"
}

// DueOn is the day on which the last part of the unit is promised.
func (u Unit) DueOn() *time.Time {
	if u.PromisedColonyOn != nil && (u.PromisedBoxOn == nil || u.PromisedColonyOn.After(*u.PromisedBoxOn)) {
		return u.PromisedColonyOn
	}
	return u.PromisedBoxOn
}

// NewOrder is an order to be made: from a quote, without one, or typed in.
type NewOrder struct {
	PartyID      int64
	SiteID       *int64
	QuoteID      *int64
	HappenedAt   time.Time // zero: now; may be past
	TheirNumber  string
	DepositMinor int64
	TypedIn      bool // an old order: its promises may be past
	Notes        string
	OwnBox       bool // colonies go into boxes that the buyer has
	Lines        []Line
}

func (o *NewOrder) check(today time.Time) error {
	var l fault.List
	l.Check(o.PartyID != 0, "/party_id", "Say who ordered it.")
	l.Check(len(o.Lines) > 0, "/lines", "An order needs at least one line.")
	l.Check(len(o.Lines) <= 100, "/lines", "An order holds at most 100 lines.")
	l.Check(o.HappenedAt.Before(today.AddDate(0, 0, 2)), "/happened_at", "An order cannot have come in the future.")
	checkWords(&l, "/their_number", o.TheirNumber)
	checkProse(&l, "/notes", o.Notes)
	checkMoney(&l, "/deposit_minor", o.DepositMinor)
	floor := today
	if o.TypedIn || o.QuoteID != nil {
		floor = time.Time{} // promises of an old order, and of an issued quote, stand as they were given
	}
	for i := range o.Lines {
		o.Lines[i].Position = i + 1
		checkLine(&l, "/lines/"+decimal.NewFromInt(int64(i)).String(), &o.Lines[i], floor)
	}
	l.Check(o.DepositMinor <= sum(o.Lines), "/deposit_minor", "The deposit is more than the price.")
	return l.Err()
}

// unitsOf says how many units a line has and what each wants.
func unitsOf(l Line, ownBox bool) (int, Unit) {
	n := 1
	if countsPieces(l.Kind) {
		n = int(l.Quantity.IntPart())
	}
	return n, Unit{WantsBox: l.Kind == "box", WantsColony: l.WithColony || l.Kind == "colony", OwnBox: l.Kind == "colony" && ownBox,
		PromisedBoxOn: l.BoxOn, PromisedColonyOn: l.ColonyOn}
}

// Cancellation says what is cancelled and what becomes of the deposit.
type Cancellation struct {
	OrderID       int64
	UnitIDs       []int64 // none: all that is still open
	Because       string
	DepositEnd    string // returned, kept, part returned; needed when the whole order ends and a deposit was paid
	ReturnedMinor int64  // what goes back, with tax; for part returned
}

func (c *Cancellation) check() error {
	var l fault.List
	c.Because = strings.TrimSpace(c.Because)
	l.Check(c.Because != "", "/because", "Say why it is cancelled.")
	checkWords(&l, "/because", c.Because)
	switch c.DepositEnd {
	case "", "returned", "kept", "part returned":
	default:
		l.Add("/deposit_end", "The deposit is returned, kept or part returned.")
	}
	checkMoney(&l, "/deposit_returned_minor", c.ReturnedMinor)
	return l.Err()
}
