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
)

// Ripping is boards of a lot on the rack that were ripped into narrower ones.
type Ripping struct {
	LotID    int64
	At       time.Time
	Count    int               // boards that were ripped
	WidthsMM []decimal.Decimal // of the strips of one board, nominal
	LengthMM int               // of the strips, as measured; 0: as the boards
	Minutes  int
	By       string
}

// check refuses what the saw cannot do: l is the lot, kerfMM what each cut takes.
func (p Ripping) check(lot Lot, kerfMM decimal.Decimal, now time.Time) error {
	var l fault.List
	l.Past("/happened_at", p.At, now)
	l.Check(p.Count >= 1 && p.Count <= maxPieces, "/count", "The count must lie between 1 and %d.", maxPieces)
	l.Check(p.LengthMM >= 0 && p.LengthMM <= lot.LengthMM, "/length_mm", "The boards are %d mm long; write at most that.", lot.LengthMM)
	checkWork(&l, p.Minutes, p.By, "")
	if l.Check(len(p.WidthsMM) >= 1 && len(p.WidthsMM) <= 20, "/widths_mm", "Write the widths of the strips of one board, 1 to 20 of them.") {
		sum := kerfMM.Mul(decimal.NewFromInt(int64(len(p.WidthsMM) - 1)))
		for i, w := range p.WidthsMM {
			at := fmt.Sprintf("/widths_mm/%d", i)
			l.Check(tenths(w), at, "Millimetres take one decimal at most.")
			l.Check(w.IsPositive() && w.LessThan(lot.WidthMM), at, "A strip is narrower than the board of %s mm.", lot.WidthMM)
			l.Check(w.GreaterThanOrEqual(lot.ThicknessMM), at, "A strip narrower than the board is thick, %s mm, is a batten; book the boards as used instead.", lot.ThicknessMM)
			sum = sum.Add(w)
		}
		l.Check(sum.LessThanOrEqual(lot.WidthMM), "/widths_mm", "The strips and the saw cuts of %s mm between them take %s mm; the board has %s.", kerfMM, sum, lot.WidthMM)
	}
	return l.Err()
}

// LotRip rips boards of a lot into narrower ones, which lie where it lay and carry its
// cost and that of the minutes by volume. Boards the book did not have are booked as
// found; promises on the wide boards that no longer hold are broken. Errors: Invalid,
// NotFound.
func (r *Room) LotRip(ctx context.Context, p Ripping) (DressedOut, error) {
	var out DressedOut
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		var err error
		out, err = r.lotRip(ctx, tx, p)
		return err
	})
	return out, err
}

func (r *Room) lotRip(ctx context.Context, tx pgx.Tx, p Ripping) (DressedOut, error) {
	out := DressedOut{Lots: []Lot{}, Notes: []string{}}
	set, err := house.SettingsIn(ctx, tx)
	if err != nil {
		return out, err
	}
	lot, err := lotIn(ctx, tx, p.LotID)
	if err != nil {
		return out, err
	}
	if err := p.check(lot, set.SawKerfMM, r.db.Now()); err != nil {
		return out, err
	}
	length := p.LengthMM
	if length == 0 {
		length = lot.LengthMM
	}
	var strips []DressedLot
	for _, w := range p.WidthsMM {
		strips = append(strips, DressedLot{WidthMM: w, ThicknessMM: lot.ThicknessMM, ThicknessTrueMM: lot.ThicknessTrueMM, LengthMM: length, Grade: lot.Grade, Count: p.Count})
	}
	key := LotKey{SpeciesID: lot.SpeciesID, Place: lot.Place, PackID: lot.PackID, Offcut: lot.Offcut, FirstInOn: lot.FirstInOn}
	came, err := r.lotsFor(ctx, tx, set, key, strips)
	if err != nil {
		return out, err
	}
	if _, err := claims.Lock(ctx, tx, append(things(came), claims.Lot(lot.ID))); err != nil {
		return out, err
	}
	if lot, err = lotIn(ctx, tx, p.LotID); err != nil { // its cost under the lock
		return out, err
	}
	w := ripWork(set, lot, p, came)
	w.share(came)
	b, err := MoveTx(ctx, tx, r.db.Now(), Move{Thing: claims.Lot(lot.ID), Quantity: -p.Count, Kind: Ripped, HappenedAt: p.At})
	if err != nil {
		return out, err
	}
	if err := r.bookIn(ctx, tx, came, Move{Kind: Ripped, HappenedAt: p.At, Reason: fmt.Sprintf("of %s x %s", lot.WidthMM, lot.ThicknessMM)}, lot.OwnCost || w.LabourMinor > 0); err != nil {
		return out, err
	}
	if w.ID, err = workInsert(ctx, tx, r.db.Now(), w, came); err != nil {
		return out, err
	}
	if b.Found > 0 {
		out.Notes = append(out.Notes, Booked{Found: b.Found, Words: b.Words}.Notes()...)
	}
	out.Work, out.Broken = w, b.Broken
	out.Lots, err = lotsIn(ctx, tx, came)
	return out, err
}

// ripWork reckons the ripping of boards of a lot.
func ripWork(set house.Settings, lot Lot, p Ripping, list []came) Work {
	mm := int64(lot.LengthMM) * int64(p.Count)
	w := Work{LotID: &lot.ID, At: p.At, Taken: p.Count, TakenMM: mm, Minutes: p.Minutes, By: p.By,
		TakenMM3:    lot.WidthMM.Mul(lot.ThicknessTrueMM).Mul(decimal.NewFromInt(mm)).IntPart(),
		BoardsMinor: decimal.NewFromInt(lot.MetreCostMinor).Mul(decimal.NewFromInt(mm)).DivRound(decimal.NewFromInt(1000), 0).IntPart(),
		LabourMinor: hoursCost(p.Minutes, set)}
	w.measure(list, lot.WidthMM, set.SawKerfMM)
	return w
}
