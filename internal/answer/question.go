package answer

import (
	"math"
	"time"

	"github.com/shopspring/decimal"

	"kerfbook/internal/fault"
	"kerfbook/internal/sales"
)

// Question is what is asked of the answer.
type Question struct {
	Wish    sales.Wish
	PartyID int64     // 0: nobody known, so no class of buyer
	SiteID  int64     // 0: no place known, so no delivery by distance
	AsOf    time.Time // business date; zero: today
	// QuoteID is a quote whose own hold on timber, bench and colonies does not count
	// against it, with all revisions of its number.
	QuoteID int64
}

// maxDeliverKM bounds a typed way; beyond it a boat is needed (our estimate).
const maxDeliverKM = 5000

func (q Question) check() error {
	w := q.Wish
	var l fault.List
	l.Check(w.Count >= 0 && w.Count <= sales.MaxPieces, "/wish/count", "The number must lie between 1 and %d.", sales.MaxPieces)
	l.Check(!math.IsNaN(w.DeliverKM) && w.DeliverKM >= 0 && w.DeliverKM <= maxDeliverKM, "/wish/deliver_km", "The way must lie between 0 and %d km.", maxDeliverKM)
	l.Check(len(w.OptionIDs) <= 30, "/wish/option_ids", "At most 30 options.")
	l.Check(w.ModelID >= 0, "/wish/model_id", "There is no such model.")
	l.Check(w.TimberID >= 0, "/wish/timber_id", "There is no such timber.")
	l.Check(w.BeeSpeciesID >= 0, "/wish/bee_species_id", "There is no such kind of bee.")
	l.Check(w.ModelID != 0 || len(w.OptionIDs) == 0, "/wish/option_ids", "Options belong to a box. Choose a model.")
	l.Check(!w.OwnBox || w.ModelID == 0, "/wish/own_box", "With a box of the buyer's own no model is chosen.")
	return l.Err()
}

// The parts of an answer that a reason is about.
const (
	PartPrice    = "price"
	PartShelf    = "shelf"
	PartTimber   = "timber"
	PartBench    = "bench"
	PartFittings = "fittings"
	PartFinish   = "finish"
	PartColony   = "colony"
	PartDelivery = "delivery"
	PartBook     = "book" // something that the book does not hold yet
)

// Reason is one plain sentence that stands behind an answer.
type Reason struct {
	Part  string // one of the Part… words
	Text  string
	Late  bool // it makes the date late
	Short bool // something is missing or not enough
}

// Where a unit comes from.
const (
	FromShelf = "shelf"
	FromBuild = "build"
	FromNew   = "new"
	FromOwn   = "own box"
)

// UnitDate says for one of the pieces where it comes from and when.
type UnitDate struct {
	N        int
	From     string // shelf, build, new, own box; "" for colonies alone
	BoxID    int64
	Serial   string
	BuildID  int64 // the build under way that makes it
	Build    string
	Output   int // which piece of that build
	ColonyID int64
	BoxOn    *time.Time // with four-in-five certainty; nil: cannot be said, or no box
	ColonyOn *time.Time
}

// PricePart is what one piece of the price is made of, ex tax, for one piece.
type PricePart struct {
	What      string
	EachMinor int64
	Listed    bool // from the price list; else cost plus margin
}

// CostLine is what something costs today, for all pieces together.
type CostLine struct {
	Kind      string // timber, labour, fittings, finish, colony, delivery
	What      string
	CostMinor int64 // with overhead
}

// Answer is how much and when, with the reasons.
type Answer struct {
	Question Question
	AsOf     time.Time

	Lines           []sales.Line // what a quote would say, prices, needs and dates filled in
	PriceParts      []PricePart
	PriceExTaxMinor int64
	TaxMinor        int64
	PriceMinor      int64 // with tax
	TaxName         string
	Registered      bool

	Cost      []CostLine
	CostMinor int64
	LeftMinor int64            // price ex tax less cost
	MarginPct *decimal.Decimal // of the price ex tax; nil where nothing is charged

	Units    []UnitDate
	BoxOn    *time.Time // all boxes
	ColonyOn *time.Time // all colonies
	Decides  string     // the part that decides the last date; "" when nothing waits
	Reasons  []Reason
}

// Short reports whether anything is missing for the answer to hold.
func (a Answer) Short() bool {
	for _, r := range a.Reasons {
		if r.Short {
			return true
		}
	}
	return false
}
