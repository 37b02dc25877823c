package timber

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// Sawing is a day at the mill: one log and the boards that came of it.
type Sawing struct {
	At        time.Time
	Minutes   int
	Boards    []SawnBoards // stickered in one pack for each green size; none: not counted yet
	Place     string
	ClimateID *int64
	StackedOn time.Time    // zero: the day of At
	Expected  *LogExpected // what the drawing promised; kept with the log
}

// SawnBoards are equal green boards.
type SawnBoards struct {
	WidthMM, ThicknessMM decimal.Decimal // green
	LengthMM             int
	Grade                string // empty: sound
	Count                int
	DressesTo            *Size // nil: not known yet
}

func (b SawnBoards) m3() decimal.Decimal {
	return b.WidthMM.Mul(b.ThicknessMM).Mul(decimal.NewFromInt(int64(b.LengthMM) * int64(b.Count))).Shift(-9)
}

// LogExpected is what a log was expected to give when it was sawn, kept so that later
// changes of models, settings or timber do not alter it.
type LogExpected struct {
	LogM3 float64        `json:"log_m3"`
	M3    float64        `json:"m3"`    // boards by the drawing
	Ratio float64        `json:"ratio"` // of real to drawn, from earlier logs; 1 when not known
	Logs  int            `json:"logs"`  // how many logs the ratio is from
	Sizes []ExpectedSize `json:"sizes"`
}

// ExpectedSize is what the drawing gives of one size.
type ExpectedSize struct {
	WidthMM          float64 `json:"width_mm"` // dressed
	ThicknessMM      float64 `json:"thickness_mm"`
	GreenWidthMM     float64 `json:"green_width_mm"`
	GreenThicknessMM float64 `json:"green_thickness_mm"`
	Boards           int     `json:"boards"`
	TotalMM          float64 `json:"total_mm"` // length of all of them
}

// LogBoard is equal boards that came of a log, and the pack they were laid into.
type LogBoard struct {
	WidthMM     decimal.Decimal `db:"width_mm"` // green
	ThicknessMM decimal.Decimal `db:"thickness_mm"`
	LengthMM    int             `db:"length_mm"`
	Grade       string          `db:"grade"`
	Count       int             `db:"count"`
	PackID      int64           `db:"pack_id"`
	PackNumber  string          `db:"pack_number"`
}

func (s *Sawing) check(now time.Time, loc *time.Location) error {
	var l fault.List
	l.Past("/sawn_at", s.At, now)
	l.Check(s.Minutes >= 0 && s.Minutes <= 10_000, "/sawn_min", "The minutes must lie between 0 and 10000.")
	l.Check(len(s.Boards) <= 200, "/boards", "At most 200 lines at a time.")
	l.Short("/place", s.Place)
	if s.StackedOn.IsZero() {
		s.StackedOn = house.DateIn(s.At, loc)
	}
	type key struct {
		w, t string
		c    Content
	}
	seen := map[key]bool{}
	for i := range s.Boards {
		b, at := &s.Boards[i], fmt.Sprintf("/boards/%d", i)
		if b.Grade == "" {
			b.Grade = "sound"
		}
		mmBetween(&l, at+"/width_mm", b.WidthMM, 1, 2000)
		mmBetween(&l, at+"/thickness_mm", b.ThicknessMM, 1, 500)
		l.Check(b.ThicknessMM.LessThanOrEqual(b.WidthMM), at+"/thickness_mm", "The thickness is the smaller of the two: write %s x %s the other way round.", b.WidthMM, b.ThicknessMM)
		l.Check(b.LengthMM >= 1 && b.LengthMM <= 20_000, at+"/length_mm", "The length must lie between 1 and 20000 mm.")
		l.Check(b.Count >= 1 && b.Count <= maxPieces, at+"/count", "The count must lie between 1 and %d.", maxPieces)
		l.Check(gradeOK(b.Grade), at+"/grade", "The grade is clear, sound or knotty.")
		k := key{b.WidthMM.String(), b.ThicknessMM.String(), Content{LengthMM: b.LengthMM, Grade: b.Grade}}
		l.Check(!seen[k], at+"/length_mm", "This size, length and grade stands there twice. Add the counts up.")
		seen[k] = true
	}
	return l.Err()
}

// checkVolume refuses more wood than the log holds: a count or a size is wrong then.
func (s Sawing) checkVolume(g Log) error {
	total := decimal.Zero
	for _, b := range s.Boards {
		total = total.Add(b.m3())
		if b.LengthMM > int(g.LengthMM.Ceil().IntPart())+longerMM {
			return fault.Bad("/boards", "A board of %d mm is longer than the log, which has %s mm. Look at the lengths, or put the log right.", b.LengthMM, g.LengthMM)
		}
	}
	if log := decimal.NewFromFloat(g.VolumeM3()); total.GreaterThan(log) {
		return fault.Bad("/boards", "These boards hold %s m³, the log only %s m³. Look at the counts and sizes, or put the log right.", total.Round(3), log.Round(3))
	}
	return nil
}

// longerMM is how much longer than the log's own measure a board may be: logs are measured
// roughly. Our estimate.
const longerMM = 100

// LogSawn notes when a log was sawn and how long that took, without its boards. Errors as
// for LogSaw.
func (r *Room) LogSawn(ctx context.Context, id int64, version int, at time.Time, minutes int) (Log, error) {
	g, _, err := r.LogSaw(ctx, id, version, Sawing{At: at, Minutes: minutes})
	return g, err
}

// LogSaw books a sawing day: the log is sawn, its boards lie in new packs, one for each
// green size, and what the log, its haulage and the sawing cost is spread over the packs by
// volume. A log that was noted as sawn without boards can get them later. Errors: Conflict
// when its boards are booked already; Stale; Invalid.
func (r *Room) LogSaw(ctx context.Context, id int64, version int, s Sawing) (Log, []Pack, error) {
	var out Log
	var packs []Pack
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		set, err := house.SettingsIn(ctx, tx)
		if err != nil {
			return err
		}
		if err := s.check(r.db.Now(), set.Location()); err != nil {
			return err
		}
		was, err := postgres.One[Log](ctx, tx, `SELECT `+logColumns+` FROM log WHERE id = $1 FOR NO KEY UPDATE`, id)
		if err != nil {
			return err
		}
		switch {
		case was.SawnAt != nil && (len(s.Boards) == 0 || was.RealM3 != nil):
			return fault.New(fault.Conflict, "This log is sawn already.")
		case was.Version != version:
			return postgres.Changed(ctx, tx, fault.New(fault.NotFound, "This log is not in the book."), "log", id, "this log")
		}
		if err := s.checkVolume(was); err != nil {
			return err
		}
		if packs, err = r.stackSawn(ctx, tx, was, s); err != nil {
			return err
		}
		if out, err = r.logSawnIn(ctx, tx, was, s, set); err != nil {
			return err
		}
		if err := logSpread(ctx, tx, out); err != nil {
			return err
		}
		for i := range packs {
			if packs[i], err = packIn(ctx, tx, packs[i].ID); err != nil {
				return err
			}
		}
		return nil
	})
	return out, packs, err
}

// logSawnIn writes the sawing into the log's own row.
func (r *Room) logSawnIn(ctx context.Context, tx pgx.Tx, was Log, s Sawing, set house.Settings) (Log, error) {
	at, minutes := s.At, s.Minutes
	if was.SawnAt != nil {
		at = *was.SawnAt
		if minutes == 0 && was.SawnMin != nil {
			minutes = *was.SawnMin
		}
	}
	var real, drawn *decimal.Decimal
	if len(s.Boards) > 0 {
		sum := decimal.Zero
		for _, b := range s.Boards {
			sum = sum.Add(b.m3())
		}
		real = &sum
	}
	expected := was.Expected
	if s.Expected != nil && expected == nil {
		expected = s.Expected
	}
	if expected != nil {
		m3 := decimal.NewFromFloat(expected.M3).Round(6)
		drawn = &m3
	}
	cost := decimal.NewFromInt(set.MillHourCostMinor).Mul(decimal.NewFromInt(int64(minutes))).DivRound(decimal.NewFromInt(60), 0).IntPart()
	return postgres.One[Log](ctx, tx, `UPDATE log SET sawn_at = $1, sawn_min = $2, sawing_minor = $3, expected = $4, expected_m3 = $5, real_m3 = $6 WHERE id = $7 RETURNING `+logColumns,
		at, minutes, cost, expected, drawn, real, was.ID)
}

// stackSawn lays the boards up, one pack for each green size in the order they came.
func (r *Room) stackSawn(ctx context.Context, tx pgx.Tx, g Log, s Sawing) ([]Pack, error) {
	var order []string
	stacks := map[string]*PackNew{}
	for _, b := range s.Boards {
		key := b.WidthMM.String() + "x" + b.ThicknessMM.String()
		p := stacks[key]
		if p == nil {
			p = &PackNew{SpeciesID: g.SpeciesID, WidthMM: b.WidthMM, ThicknessMM: b.ThicknessMM, LogID: &g.ID, Place: s.Place, ClimateID: s.ClimateID, StackedOn: s.StackedOn}
			stacks[key], order = p, append(order, key)
		}
		if b.DressesTo != nil {
			p.DressesTo = b.DressesTo
		}
		p.Content = append(p.Content, Content{LengthMM: b.LengthMM, Grade: b.Grade, Count: b.Count})
	}
	packs := []Pack{}
	for _, key := range order {
		p, err := r.PackStack(ctx, *stacks[key])
		if err != nil {
			return nil, err
		}
		packs = append(packs, p)
		for _, c := range stacks[key].Content {
			if _, err := tx.Exec(ctx, `INSERT INTO log_board (log_id, pack_id, board_size_id, length_mm, grade, count) SELECT $1, p.id, p.board_size_id, $3, $4, $5 FROM pack p WHERE p.id = $2`,
				g.ID, p.ID, c.LengthMM, c.Grade, c.Count); err != nil {
				return nil, postgres.Translate(err)
			}
		}
	}
	return packs, nil
}

// logSpread spreads what a log, its haulage and its sawing cost over the packs of its
// sawing day, by the volume of their boards; not a minor unit is lost.
func logSpread(ctx context.Context, tx pgx.Tx, g Log) error {
	type share struct {
		PackID int64 `db:"pack_id"`
		Volume int64 `db:"volume"` // hundredths of a cubic millimetre
	}
	list, err := postgres.List[share](ctx, tx, `SELECT b.pack_id, sum(z.width_mm * 10 * z.thickness_mm * 10 * b.length_mm * b.count)::bigint AS volume
		FROM log_board b JOIN board_size z ON z.id = b.board_size_id WHERE b.log_id = $1 GROUP BY b.pack_id ORDER BY b.pack_id`, g.ID)
	if err != nil {
		return err
	}
	volumes := make([]int64, len(list))
	for i, s := range list {
		volumes[i] = s.Volume
	}
	for i, minor := range spread(g.CostMinor+g.HaulageMinor+g.SawingMinor, volumes) {
		if _, err := tx.Exec(ctx, `UPDATE pack SET cost_minor = $2 WHERE id = $1 AND cost_minor <> $2`, list[i].PackID, minor); err != nil {
			return postgres.Translate(err)
		}
	}
	return nil
}

// LogBoards gives what came of a log, in the order it was written down.
func (r *Room) LogBoards(ctx context.Context, id int64) ([]LogBoard, error) {
	return postgres.List[LogBoard](ctx, r.db, `SELECT trim_scale(z.width_mm) AS width_mm, trim_scale(z.thickness_mm) AS thickness_mm, b.length_mm, b.grade, b.count, b.pack_id, p.number AS pack_number
		FROM log_board b JOIN board_size z ON z.id = b.board_size_id JOIN pack p ON p.id = b.pack_id WHERE b.log_id = $1 ORDER BY b.id`, id)
}

// lastLogs is how many of the last logs the figures of experience are taken from.
const lastLogs = 10

// enoughLogs is from how many logs on their middle is believed: our estimate.
const enoughLogs = 3

// Yields is how the last logs of a timber came out against their drawings.
type Yields struct {
	Logs  int     `db:"logs"`
	Ratio float64 `db:"ratio"` // middle of real to drawn volume; 1 without a log
}

// Believed gives the ratio to reckon with: 1 until there are enough logs.
func (y Yields) Believed() float64 {
	if y.Logs < enoughLogs {
		return 1
	}
	return y.Ratio
}

// LogYields gives the middle (median) of the last logs of a timber, which one bad log does
// not move far.
func (r *Room) LogYields(ctx context.Context, speciesID int64) (Yields, error) {
	return postgres.One[Yields](ctx, r.db, `SELECT count(*)::int AS logs, coalesce(percentile_cont(0.5) WITHIN GROUP (ORDER BY ratio), 1)::float8 AS ratio FROM (
		SELECT (real_m3 / expected_m3)::float8 AS ratio FROM log WHERE species_id = $1 AND real_m3 IS NOT NULL AND expected_m3 > 0 ORDER BY sawn_at DESC, id DESC LIMIT $2) last`, speciesID, lastLogs)
}

// SpeciesYields is how the last logs of one timber came out.
type SpeciesYields struct {
	SpeciesID   int64  `db:"species_id"`
	SpeciesName string `db:"species_name"`
	Yields
}

// YieldList gives how the last logs of each timber came out, for timbers with a booked
// sawing day, by name.
func (r *Room) YieldList(ctx context.Context) ([]SpeciesYields, error) {
	return postgres.List[SpeciesYields](ctx, r.db, `SELECT s.id AS species_id, s.name AS species_name, y.logs, y.ratio FROM timber_species s
		CROSS JOIN LATERAL (SELECT count(*)::int AS logs, coalesce(percentile_cont(0.5) WITHIN GROUP (ORDER BY ratio), 1)::float8 AS ratio FROM (
			SELECT (real_m3 / expected_m3)::float8 AS ratio FROM log WHERE species_id = s.id AND real_m3 IS NOT NULL AND expected_m3 > 0 ORDER BY sawn_at DESC, id DESC LIMIT $1) last) y
		WHERE y.logs > 0 ORDER BY lower(s.name::text), s.id LIMIT 500`, lastLogs)
}

// MillMinutes gives the minutes at the mill for a cubic metre of log: the middle of the
// last logs of any timber, or the workshop's figure while there are fewer than three; and
// how many logs it is from.
func (r *Room) MillMinutes(ctx context.Context, set house.Settings) (minM3 float64, logs int, err error) {
	type row struct {
		Logs int     `db:"logs"`
		Min  float64 `db:"min"`
	}
	got, err := postgres.One[row](ctx, r.db, `SELECT count(*)::int AS logs, coalesce(percentile_cont(0.5) WITHIN GROUP (ORDER BY rate), 0)::float8 AS min FROM (
		SELECT sawn_min / (pi() / 12 * length_mm * (small_end_mm ^ 2 + small_end_mm * large_end_mm + large_end_mm ^ 2) / 1e9)::float8 AS rate
		FROM log WHERE sawn_min > 0 ORDER BY sawn_at DESC, id DESC LIMIT $1) last`, lastLogs)
	if err != nil || got.Logs < enoughLogs {
		return float64(set.MillMinM3), 0, err
	}
	return got.Min, got.Logs, nil
}

// LogWish keeps what is wanted of a log that is not sawn yet; nil: the usual. Errors:
// Invalid, Stale, Conflict when it is sawn.
func (r *Room) LogWish(ctx context.Context, id int64, version int, wish *LogWish) (Log, error) {
	if wish != nil {
		if err := wish.Check(); err != nil {
			return Log{}, err
		}
	}
	var out Log
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		var err error
		out, err = postgres.One[Log](ctx, tx, `UPDATE log SET wish = $1 WHERE id = $2 AND version = $3 AND sawn_at IS NULL RETURNING `+logColumns, wish, id, version)
		if !fault.Is(err, fault.NotFound) {
			return err
		}
		sawn, err2 := postgres.Value[bool](ctx, tx, `SELECT sawn_at IS NOT NULL FROM log WHERE id = $1`, id)
		if err2 == nil && sawn {
			return fault.New(fault.Conflict, "This log is sawn already.")
		}
		return postgres.Changed(ctx, tx, err, "log", id, "this log")
	})
	return out, err
}
