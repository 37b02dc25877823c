package timber

import (
	"context"
	"math"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"kerfbook/internal/calc/sawing"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// Log is a log, before and after it is sawn. Diameters are under bark.
type Log struct {
	ID              int64            `db:"id"`
	Version         int              `db:"version"`
	Number          string           `db:"number"`
	SpeciesID       int64            `db:"species_id"`
	SpeciesName     string           `db:"species_name"`
	SmallEndMM      decimal.Decimal  `db:"small_end_mm"`
	LargeEndMM      decimal.Decimal  `db:"large_end_mm"`
	LengthMM        decimal.Decimal  `db:"length_mm"`
	SweepMM         decimal.Decimal  `db:"sweep_mm"`
	FelledOn        *time.Time       `db:"felled_on"`
	EndsSealed      bool             `db:"ends_sealed"`
	MetalSuspected  bool             `db:"metal_suspected"`
	HollowSuspected bool             `db:"hollow_suspected"`
	FromWhere       string           `db:"from_where"`
	SupplierID      *int64           `db:"supplier_id"`
	CostMinor       int64            `db:"cost_minor"`
	HaulageMinor    int64            `db:"haulage_minor"`
	SawnAt          *time.Time       `db:"sawn_at"`
	SawnMin         *int             `db:"sawn_min"` // minutes at the mill
	SawingMinor     int64            `db:"sawing_minor"`
	Wish            *LogWish         `db:"wish"`
	Expected        *LogExpected     `db:"expected"`
	RealM3          *decimal.Decimal `db:"real_m3"` // boards that came; nil: not counted
	Notes           string           `db:"notes"`
	RecordedAt      time.Time        `db:"recorded_at"`
	PutAwayAt       *time.Time       `db:"put_away_at"`
	Girths          bool             `db:"-"` // LogSave only: the ends are written as girths
}

// VolumeM3 is the log's solid volume under bark, as a truncated cone.
func (g Log) VolumeM3() float64 {
	return sawing.ConeVolumeM3(g.LengthMM.InexactFloat64(), g.SmallEndMM.InexactFloat64(), g.LargeEndMM.InexactFloat64())
}

const logColumns = `log.id, log.version, log.number, log.species_id, (SELECT name FROM timber_species s WHERE s.id = log.species_id) AS species_name,
	log.small_end_mm, log.large_end_mm, log.length_mm, log.sweep_mm, log.felled_on, log.ends_sealed, log.metal_suspected, log.hollow_suspected,
	log.from_where, log.supplier_id, log.cost_minor, log.haulage_minor, log.sawn_at, log.sawn_min, log.sawing_minor, log.wish, log.expected, log.real_m3, log.notes, log.recorded_at, log.put_away_at`

// Limits past which a log is asked about once more: our estimate of what a small mill
// sees.
const (
	girthAskMM = 1000 // a diameter from here up is likely a girth
	taperAskMM = 40   // so many mm wider for each metre of length
	thinAskMM  = 120  // a girth that makes less than this is likely a diameter
)

// check refuses what no log is, and asks back where the entry is likely a slip; sure
// means the maker has looked again.
func (g Log) check(sure bool, today time.Time) error {
	var l fault.List
	l.Check(g.SpeciesID > 0, "/species_id", "Say which timber it is.")
	ok := mmBetween(&l, "/small_end_mm", g.SmallEndMM, 20, 5000)
	ok = mmBetween(&l, "/large_end_mm", g.LargeEndMM, 20, 5000) && ok
	ok = mmBetween(&l, "/length_mm", g.LengthMM, 100, 20000) && ok
	mmBetween(&l, "/sweep_mm", g.SweepMM, 0, 2000)
	ok = l.Check(g.LargeEndMM.GreaterThanOrEqual(g.SmallEndMM), "/large_end_mm", "The large end is smaller than the small end. Are the two swapped?") && ok
	l.Short("/from_where", g.FromWhere)
	l.Check(g.CostMinor >= 0, "/cost_minor", "A cost cannot be below zero.")
	l.Check(g.HaulageMinor >= 0, "/haulage_minor", "A cost cannot be below zero.")
	l.Check(g.FelledOn == nil || !g.FelledOn.After(today), "/felled_on", "This day is still to come. Write when it was felled.")
	if ok && !sure {
		g.ask(&l)
	}
	return l.Err()
}

// through turns girths into diameters.
func (g Log) through() Log {
	if g.Girths {
		g.SmallEndMM, g.LargeEndMM = Diameter(g.SmallEndMM), Diameter(g.LargeEndMM)
	}
	return g
}

// Diameter gives the diameter of a girth, in mm to one decimal.
func Diameter(girthMM decimal.Decimal) decimal.Decimal {
	return decimal.NewFromFloat(girthMM.InexactFloat64() / math.Pi).Round(1)
}

func (g Log) ask(l *fault.List) {
	if small := g.SmallEndMM; g.Girths && small.LessThan(decimal.NewFromInt(thinAskMM)) {
		l.Add("/small_end_mm", "A girth of %.0f mm is a log only %s mm through. Is it the diameter? If it is the girth, say that you are sure.", small.InexactFloat64()*math.Pi, small)
		return
	}
	if small := g.SmallEndMM.InexactFloat64(); small >= girthAskMM && !g.Girths {
		l.Add("/small_end_mm", "%s mm is a very thick log. Is it the girth? A girth of %s mm is a diameter of %.0f mm. If it is the diameter, say that you are sure.",
			g.SmallEndMM, g.SmallEndMM, small/math.Pi)
		return
	}
	metres := g.LengthMM.InexactFloat64() / 1000
	if grows := g.LargeEndMM.Sub(g.SmallEndMM).InexactFloat64(); grows > taperAskMM*max(metres, 1) {
		l.Add("/large_end_mm", "The log grows by %.0f mm over %.1f m, which is much. Is one of the ends a girth? If it is right, say that you are sure.", grows, metres)
	}
}

// LogLook gives a log as LogSave would write it, without writing it. Errors as for LogSave.
func (r *Room) LogLook(ctx context.Context, g Log, sure bool) (Log, error) {
	today, err := r.today(ctx, r.db)
	if err != nil {
		return g, err
	}
	g = g.through()
	if err := g.check(sure, today); err != nil {
		return g, err
	}
	sp, err := r.SpeciesGet(ctx, g.SpeciesID)
	if fault.Is(err, fault.NotFound) {
		return g, fault.Bad("/species_id", "This timber is not in the book.")
	}
	g.SpeciesName = sp.Name
	return g, err
}

// LogSave enters a log (ID 0, it gets its number) or changes one. Errors: Invalid, also
// as a question back when a diameter looks like a girth and sure is false; Stale. What a
// sawn log costs by now is spread over its packs anew.
func (r *Room) LogSave(ctx context.Context, g Log, sure bool) (Log, error) {
	var out Log
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		today, err := r.today(ctx, tx)
		if err != nil {
			return err
		}
		g := g.through()
		if err := g.check(sure, today); err != nil {
			return err
		}
		args := []any{g.SpeciesID, g.SmallEndMM, g.LargeEndMM, g.LengthMM, g.SweepMM, g.FelledOn, g.EndsSealed, g.MetalSuspected, g.HollowSuspected,
			g.FromWhere, g.SupplierID, g.CostMinor, g.HaulageMinor, g.Notes, g.PutAwayAt}
		if g.ID == 0 {
			number, err := house.Number(ctx, tx, "log", "L")
			if err != nil {
				return err
			}
			out, err = postgres.One[Log](ctx, tx, `INSERT INTO log (species_id, small_end_mm, large_end_mm, length_mm, sweep_mm, felled_on, ends_sealed,
				metal_suspected, hollow_suspected, from_where, supplier_id, cost_minor, haulage_minor, notes, put_away_at, number, recorded_at)
				VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17) RETURNING `+logColumns, append(args, number, r.db.Now())...)
			return err
		}
		out, err = postgres.One[Log](ctx, tx, `UPDATE log SET species_id = $1, small_end_mm = $2, large_end_mm = $3, length_mm = $4, sweep_mm = $5, felled_on = $6,
			ends_sealed = $7, metal_suspected = $8, hollow_suspected = $9, from_where = $10, supplier_id = $11, cost_minor = $12, haulage_minor = $13,
			notes = $14, put_away_at = $15 WHERE id = $16 AND version = $17 RETURNING `+logColumns, append(args, g.ID, g.Version)...)
		if err = postgres.Changed(ctx, tx, err, "log", g.ID, "this log"); err != nil {
			return err
		}
		return logSpread(ctx, tx, out)
	})
	return out, err
}

// LogGet reads one log.
func (r *Room) LogGet(ctx context.Context, id int64) (Log, error) {
	return postgres.One[Log](ctx, r.db, `SELECT `+logColumns+` FROM log WHERE id = $1`, id)
}

// LogFilter says which logs a list holds.
type LogFilter struct {
	Find  string // beginning of the number
	Open  bool   // not sawn yet
	Limit int
	After string
}

// LogList gives logs from the newest, and the mark of the next page ("" at the end).
func (r *Room) LogList(ctx context.Context, f LogFilter) ([]Log, string, error) {
	mark, err := postgres.ReadMark(f.After)
	if err != nil {
		return nil, "", err
	}
	n := postgres.PageSize(f.Limit)
	list, err := postgres.List[Log](ctx, r.db, `SELECT `+logColumns+` FROM log WHERE put_away_at IS NULL AND ($1::bigint = 0 OR id < $1)
		AND (NOT $2 OR sawn_at IS NULL) AND ($3 = '' OR number LIKE upper($3) || '%') ORDER BY id DESC LIMIT $4`, mark.ID, f.Open, likeLiteral(f.Find), n+1)
	if err != nil {
		return nil, "", err
	}
	page, next := postgres.CutPage(list, n, func(g Log) postgres.Mark { return postgres.Mark{ID: g.ID} })
	return page, next, nil
}
