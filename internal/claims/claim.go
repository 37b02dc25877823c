package claims

import (
	"fmt"
	"strings"
	"time"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Kind says what sort of thing is claimed. The order of the kinds is the order in which
// their rows are locked.
type Kind int

// What can be claimed.
const (
	LotKind Kind = iota + 1
	ItemKind
	ShelfLotKind
	PackKind
	BoxKind
	ColonyKind
)

// Thing is something that can be claimed.
type Thing struct {
	Kind Kind
	ID   int64
}

// Lot is a lot of boards on the rack.
func Lot(id int64) Thing { return Thing{LotKind, id} }

// Item is a fitting, a finish or goods.
func Item(id int64) Thing { return Thing{ItemKind, id} }

// ShelfLot is sections or parts on the shelf.
func ShelfLot(id int64) Thing { return Thing{ShelfLotKind, id} }

// Pack is a stack that is still drying; it can be meant, never put aside.
func Pack(id int64) Thing { return Thing{PackKind, id} }

// Box is a box with its serial.
func Box(id int64) Thing { return Thing{BoxKind, id} }

// Colony is a colony.
func Colony(id int64) Thing { return Thing{ColonyKind, id} }

// Claimant is who it is for: one order unit or one build, never both.
type Claimant struct{ UnitID, BuildID int64 }

// Unit is an order unit as claimant.
func Unit(id int64) Claimant { return Claimant{UnitID: id} }

// Build is a build as claimant.
func Build(id int64) Claimant { return Claimant{BuildID: id} }

// Strength is how firmly a thing is claimed.
type Strength string

// The two strengths.
const (
	Meant    Strength = "meant"
	PutAside Strength = "put aside"
)

// How says how a claim ended.
type How string

// The ways a claim ends. Broken is for [BreakForFact] alone.
const (
	Used       How = "used"
	Freed      How = "freed"
	Cancelled  How = "cancelled"
	HandedOver How = "handed over"
	Relaid     How = "re-laid"
	Broken     How = "broken by a fact"
)

// Want asks for quantity pieces of a thing.
type Want struct {
	For        Claimant
	Thing      Thing
	Quantity   int // pieces, 1 or more; always 1 for a box or a colony
	Strength   Strength
	PromisedOn *time.Time // the claimant's promised date; nil where nothing is promised
}

// Claim is a claim as it stands in the book.
type Claim struct {
	ID         int64
	For        Claimant
	Thing      Thing
	Words      string // what is claimed, in plain words
	Quantity   int
	Strength   Strength
	PromisedOn *time.Time
	MadeAt     time.Time
	EndedAt    *time.Time
	EndedHow   How
	Because    string
}

// Stock is what the book holds of a thing: boards, pieces, or 1 for a box or colony.
type Stock struct {
	OnHand, PutAside, Meant int
	Words                   string // the thing in plain words, such as "hoop pine 100 x 28, 2400 mm"
	Bulk                    bool   // not counted: nothing of it can be claimed
}

// Free is what nobody has claimed; below 0 only while a fact waits to be booked.
func (s Stock) Free() int { return s.OnHand - s.PutAside - s.Meant }

// Short is one thing of which there is not enough.
type Short struct {
	Thing       Thing
	Words       string
	Asked, Free int
}

// ShortError says what is short and by how much; it is the cause of the fault that
// [Put] returns, for callers that want the figures.
type ShortError struct{ Shorts []Short }

// Error gives every shortage in one sentence each.
func (e *ShortError) Error() string {
	s := make([]string, len(e.Shorts))
	for i, one := range e.Shorts {
		s[i] = one.sentence()
	}
	return strings.Join(s, " ")
}

func (s Short) sentence() string {
	switch {
	case s.Thing.Kind == BoxKind || s.Thing.Kind == ColonyKind:
		return fmt.Sprintf("%s is already promised to somebody else.", s.Words)
	case s.Free <= 0:
		return fmt.Sprintf("%d of %s short: %d asked for, none free.", s.Asked, s.Words, s.Asked)
	}
	return fmt.Sprintf("%d of %s short: %d asked for, %d free.", s.Asked-s.Free, s.Words, s.Asked, s.Free)
}

// check refuses a want that no book could hold; pointer names it.
func (w Want) check(l *fault.List, pointer string) {
	l.Check((w.For.UnitID > 0) != (w.For.BuildID > 0), pointer+"/for", "Say for which order unit or which build, one of the two.")
	_, known := kinds[w.Thing.Kind]
	l.Check(known && w.Thing.ID > 0, pointer+"/thing", "Say what is to be put aside.")
	l.Check(w.Quantity >= 1 && w.Quantity <= maxQuantity, pointer+"/quantity", "The quantity must lie between 1 and %d.", maxQuantity)
	if w.Thing.Kind == BoxKind || w.Thing.Kind == ColonyKind {
		l.Check(w.Quantity == 1, pointer+"/quantity", "A box or a colony is claimed whole: the quantity is 1.")
	}
	l.Check(w.Strength == Meant || w.Strength == PutAside, pointer+"/strength", "The strength is %q or %q.", Meant, PutAside)
	if w.Thing.Kind == PackKind {
		l.Check(w.Strength == Meant, pointer+"/strength", "Boards that are still drying can be meant for a job, not put aside.")
	}
}

// maxQuantity bounds one claim; no rack holds more boards of one lot (our estimate).
const maxQuantity = 100_000

func init() {
	postgres.Explain("claim_one_a_box", fault.Conflict, "", "This box is already promised to somebody else.")
	postgres.Explain("claim_one_a_colony", fault.Conflict, "", "This colony is already promised to somebody else.")
	postgres.Explain("claim_box_ours", fault.Conflict, "", "This box cannot be promised: it is not the workshop's, or it is held back, stolen or gone.")
	postgres.Explain("claim_box_bees_held", fault.Conflict, "", "This box cannot be promised: the colony in it is held back.")
	postgres.Explain("claim_colony_ours", fault.Conflict, "", "This colony cannot be promised: it is not the workshop's, or it is held back or gone.")
	postgres.Explain("claim_stays", fault.Conflict, "", "A claim keeps its claimant and its thing, and an ended one stays ended. End it and make another.")
	postgres.Explain("board_lot_within", fault.Conflict, "", "There are not so many boards on the rack that are not put aside.")
	postgres.Explain("item_within", fault.Conflict, "", "There are not so many of this item that are not put aside.")
	postgres.Explain("shelf_lot_within", fault.Conflict, "", "There are not so many of these on the shelf that are not put aside.")
}
