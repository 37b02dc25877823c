package timber

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// Dressing is boards of a pack that went through the planer.
type Dressing struct {
	PackID    int64
	At        time.Time
	Taken     []Content    // what left the pack; empty with Done and Boards: all that is in it
	Boards    []DressedLot // what came of it; may be fewer or shorter, never none unless all was lost
	Place     string       // on the rack
	Done      bool         // the pack is finished; what is still in it is gone
	Minutes   int          // at the planer and the saw
	By        string       // who did it; may be empty
	DockedFor string       // one of DockReasons; may be empty
}

// DockReasons are what boards are docked for.
var DockReasons = []string{"checks", "knots", "wane", "stain", "borers", "twist", "other"}

// DressedLot is equal boards that came from the planer, or strips that were ripped of
// dry boards.
type DressedLot struct {
	WidthMM, ThicknessMM decimal.Decimal // nominal
	ThicknessTrueMM      decimal.Decimal // as measured; zero: nominal
	LengthMM             int             // as measured
	Grade                string          // empty: sound
	Count                int
}

// DressedOut is what a dressing did to the book.
type DressedOut struct {
	Lots   []Lot
	Work   Work
	Notes  []string // where the pack did not hold what the book said
	Broken []claims.Claim
}

func (d Dressing) check(now time.Time) error {
	var l fault.List
	l.Past("/happened_at", d.At, now)
	l.Check(len(d.Taken) > 0 || d.Done, "/taken", "Write which boards left the pack.")
	if len(d.Taken) > 0 {
		checkContent(&l, d.Taken)
	}
	l.Check(len(d.Boards) <= 200, "/boards", "At most 200 lines at a time.")
	for i, b := range d.Boards {
		l.Check(b.Count >= 1 && b.Count <= maxPieces, fmt.Sprintf("/boards/%d/count", i), "The count must lie between 1 and %d.", maxPieces)
	}
	l.Short("/place", d.Place)
	checkWork(&l, d.Minutes, d.By, d.DockedFor)
	return l.Err()
}

// fits refuses boards that cannot have come of those taken: a slip of the pen, not a
// fact. Strips take their width and one kerf of the board.
func (d Dressing) fits(p Pack, kerfMM decimal.Decimal) error {
	var l fault.List
	longest, had, came := 0, decimal.Zero, decimal.Zero
	for _, c := range d.Taken {
		longest = max(longest, c.LengthMM)
		had = had.Add(p.WidthMM.Add(kerfMM).Mul(decimal.NewFromInt(int64(c.LengthMM) * int64(c.Count))))
	}
	for i, b := range d.Boards {
		at := fmt.Sprintf("/boards/%d", i)
		l.Check(b.LengthMM <= longest, at+"/length_mm", "The longest board that was taken out has %d mm.", longest)
		l.Check(b.WidthMM.LessThanOrEqual(p.WidthMM), at+"/width_mm", "The green boards are %s mm wide; nothing wider comes of them.", p.WidthMM)
		l.Check(b.ThicknessMM.LessThanOrEqual(p.ThicknessMM) && b.ThicknessTrueMM.LessThanOrEqual(p.ThicknessMM), at+"/thickness_mm",
			"The green boards are %s mm thick; nothing thicker comes of them.", p.ThicknessMM)
		came = came.Add(b.WidthMM.Add(kerfMM).Mul(decimal.NewFromInt(int64(b.LengthMM) * int64(b.Count))))
	}
	if err := l.Err(); err != nil {
		return err
	}
	if came.GreaterThan(had) {
		return fault.Bad("/boards", "More came than the boards taken out can give, saw cuts of %s mm counted. Write all that were taken out, or count again.", kerfMM)
	}
	return nil
}

// PackDress takes boards out of a pack and puts what came of them on the rack, with the
// cost they carry. Claims that meant boards of the pack go with them; what no longer
// holds is broken. Boards the pack did not have by the book are taken all the same and
// noted. Errors: Invalid, also for boards that cannot have come of those taken; Conflict
// when the pack is finished.
func (r *Room) PackDress(ctx context.Context, d Dressing) (DressedOut, error) {
	var out DressedOut
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		var err error
		out, err = r.packDress(ctx, tx, d)
		return err
	})
	return out, err
}

func (r *Room) packDress(ctx context.Context, tx pgx.Tx, d Dressing) (DressedOut, error) {
	out := DressedOut{Lots: []Lot{}, Notes: []string{}}
	if err := d.check(r.db.Now()); err != nil {
		return out, err
	}
	set, err := house.SettingsIn(ctx, tx)
	if err != nil {
		return out, err
	}
	p, err := packIn(ctx, tx, d.PackID)
	if err != nil {
		return out, err
	}
	if p.FinishedAt != nil {
		return out, fault.New(fault.Conflict, "Pack %s is finished: all of it is dressed or gone.", p.Number)
	}
	if len(d.Taken) == 0 && len(d.Boards) > 0 {
		d.Taken = inIt(p)
	}
	if err := d.fits(p, set.SawKerfMM); err != nil {
		return out, err
	}
	came, err := r.lotsFor(ctx, tx, set, LotKey{SpeciesID: p.SpeciesID, Place: d.Place, PackID: &p.ID, FirstInOn: house.DateIn(d.At, set.Location())}, d.Boards)
	if err != nil {
		return out, err
	}
	// Lots are locked before packs; what the pack held and cost is read under its lock.
	if p, err = packLock(ctx, tx, d.PackID); err != nil {
		return out, err
	}
	out.Work, err = packWork(ctx, tx, set, p, d, came)
	if err != nil {
		return out, err
	}
	out.Work.share(came)
	if err := r.bookIn(ctx, tx, came, Move{Kind: Dressed, HappenedAt: d.At, PackID: &p.ID}, p.CostMinor > 0); err != nil {
		return out, err
	}
	if out.Work.ID, err = workInsert(ctx, tx, r.db.Now(), out.Work, came); err != nil {
		return out, err
	}
	left, notes, err := takeContent(ctx, tx, d)
	if err != nil {
		return out, err
	}
	out.Notes = notes
	out.Broken, err = claims.Carry(ctx, tx, r.db.Now(), claims.Pack(p.ID), left, things(came), "pack "+p.Number+" dressed")
	if err != nil {
		return out, err
	}
	if left == 0 {
		if _, err := tx.Exec(ctx, `UPDATE pack SET finished_at = $2 WHERE id = $1`, p.ID, d.At); err != nil {
			return out, postgres.Translate(err)
		}
	}
	out.Lots, err = lotsIn(ctx, tx, came)
	return out, err
}

// inIt is what lies in a pack.
func inIt(p Pack) []Content {
	list := []Content{}
	for _, c := range p.Content {
		if c.Count > 0 {
			list = append(list, c)
		}
	}
	return list
}

// takeContent lowers the pack's content and gives how many boards are left in it.
func takeContent(ctx context.Context, tx pgx.Tx, d Dressing) (int, []string, error) {
	notes := []string{}
	for _, c := range d.Taken {
		var had int
		err := tx.QueryRow(ctx, `SELECT count FROM pack_content WHERE pack_id = $1 AND length_mm = $2 AND grade = $3`, d.PackID, c.LengthMM, c.Grade).Scan(&had)
		if err != nil && !fault.Is(postgres.Translate(err), fault.NotFound) {
			return 0, nil, postgres.Translate(err)
		}
		if had < c.Count {
			notes = append(notes, fmt.Sprintf("The book had %d boards of %d mm %s in the pack, %d were taken.", had, c.LengthMM, c.Grade, c.Count))
		}
		if _, err := tx.Exec(ctx, `UPDATE pack_content SET count = greatest(0, count - $4) WHERE pack_id = $1 AND length_mm = $2 AND grade = $3`,
			d.PackID, c.LengthMM, c.Grade, c.Count); err != nil {
			return 0, nil, postgres.Translate(err)
		}
	}
	left, err := postgres.Value[int](ctx, tx, `SELECT coalesce(sum(count), 0)::int FROM pack_content WHERE pack_id = $1`, d.PackID)
	if err != nil || !d.Done || left == 0 {
		return left, notes, err
	}
	notes = append(notes, fmt.Sprintf("%d boards were still in the pack by the book; it is finished now.", left))
	_, err = tx.Exec(ctx, `UPDATE pack_content SET count = 0 WHERE pack_id = $1 AND count > 0`, d.PackID)
	return 0, notes, postgres.Translate(err)
}
