package timber

import (
	"context"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

const selectPack = `SELECT p.id, p.version, p.number, p.species_id, s.name AS species_name, trim_scale(z.width_mm) AS width_mm,
	trim_scale(z.thickness_mm) AS thickness_mm, p.log_id, p.place, p.climate_id, p.stacked_on, p.start_mc_pct, p.target_mc_pct,
	p.dresses_to_id, p.ready_on, p.ready_on_p80, p.never_dry, p.cost_minor, p.finished_at, p.notes,
	(SELECT coalesce(sum(c.count), 0) FROM pack_content c WHERE c.pack_id = p.id)::int AS boards,
	(SELECT coalesce(sum(c.quantity), 0) FROM claim c WHERE c.pack_id = p.id AND c.ended_at IS NULL)::int AS meant_boards,
	(SELECT r.mc_pct FROM pack_reading r WHERE r.pack_id = p.id ORDER BY r.read_on DESC, r.id DESC LIMIT 1) AS latest_mc_pct
	FROM pack p JOIN timber_species s ON s.id = p.species_id JOIN board_size z ON z.id = p.board_size_id `

// PackStack writes a new pack down, gives it its number and works out when it will be
// dry. Errors: Invalid.
func (r *Room) PackStack(ctx context.Context, p PackNew) (Pack, error) {
	var out Pack
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		today, err := r.today(ctx, tx)
		if err != nil {
			return err
		}
		if err := p.check(today); err != nil {
			return err
		}
		id, err := r.packInsert(ctx, tx, p)
		if err != nil {
			return err
		}
		if err := r.packReckon(ctx, tx, id); err != nil {
			return err
		}
		out, err = packIn(ctx, tx, id)
		return err
	})
	return out, err
}

func (r *Room) packInsert(ctx context.Context, tx pgx.Tx, p PackNew) (int64, error) {
	size, err := SizeTx(ctx, tx, p.WidthMM, p.ThicknessMM)
	if err != nil {
		return 0, err
	}
	var dressesTo *int64
	if p.DressesTo != nil {
		to, err := SizeTx(ctx, tx, p.DressesTo.WidthMM, p.DressesTo.ThicknessMM)
		if err != nil {
			return 0, err
		}
		dressesTo = &to.ID
	}
	number, err := house.Number(ctx, tx, "pack", "P")
	if err != nil {
		return 0, err
	}
	id, err := postgres.Value[int64](ctx, tx, `INSERT INTO pack (number, species_id, board_size_id, log_id, place, climate_id, stacked_on, start_mc_pct,
		target_mc_pct, dresses_to_id, cost_minor, notes, recorded_at) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13) RETURNING id`,
		number, p.SpeciesID, size.ID, p.LogID, p.Place, p.ClimateID, p.StackedOn, p.StartMCPct, p.TargetMCPct, dressesTo, p.CostMinor, p.Notes, r.db.Now())
	if err != nil {
		return 0, err
	}
	for _, c := range p.Content {
		if _, err := tx.Exec(ctx, `INSERT INTO pack_content (pack_id, length_mm, grade, count) VALUES ($1, $2, $3, $4)`, id, c.LengthMM, c.Grade, c.Count); err != nil {
			return 0, postgres.Translate(err)
		}
	}
	return id, nil
}

// packReckon works out anew when a pack will be dry and stores the dates. Without a
// climate, a dryer or the density of the timber it leaves them.
func (r *Room) packReckon(ctx context.Context, tx pgx.Tx, id int64) error {
	p, err := packIn(ctx, tx, id)
	if err != nil || r.dry == nil {
		return err
	}
	q, lack, err := packQuestion(ctx, tx, p)
	if err != nil || lack != "" {
		return err
	}
	d, err := r.dry(ctx, q)
	if err != nil {
		return err
	}
	if _, err := tx.Exec(ctx, `UPDATE pack SET ready_on = $2, ready_on_p80 = $3, never_dry = $4 WHERE id = $1`, id, d.ReadyOn, d.ReadyOnP80, d.Never); err != nil {
		return postgres.Translate(err)
	}
	_, err = tx.Exec(ctx, `UPDATE pack_reading SET ready_on = $2, ready_on_p80 = $3, never_dry = $4
		WHERE id = (SELECT max(id) FROM pack_reading WHERE pack_id = $1) AND ready_on IS NULL AND NOT never_dry`, id, d.ReadyOn, d.ReadyOnP80, d.Never)
	return postgres.Translate(err)
}

// packQuestion makes the dryer's question of a pack; lack says in a word what is missing
// for it: climate or density.
func packQuestion(ctx context.Context, db postgres.Querier, p Pack) (q DryQuestion, lack string, err error) {
	first := p.ClimateID // before the first move, where not known, as after it
	if first == nil && len(p.Places) > 0 {
		first = &p.Places[0].ClimateID
	}
	if first == nil {
		return q, "climate", nil
	}
	climate, err := climateIn(ctx, db, *first)
	if err != nil {
		return q, "", err
	}
	species, err := speciesIn(ctx, db, `id = $1`, p.SpeciesID)
	if err != nil {
		return q, "", err
	}
	_, gravity, ok := species.Basis()
	if !ok {
		return q, "density", nil
	}
	q = DryQuestion{StackedOn: p.StackedOn, ThicknessMM: p.ThicknessMM.InexactFloat64(), SpeciesCode: species.Code, Gravity: gravity,
		GreenMCPct: floatOf(species.GreenMCPct), Slowness: floatOf(species.Slowness), TargetMCPct: p.TargetMCPct.InexactFloat64(), Months: climate.Months}
	if p.StartMCPct != nil {
		start := p.StartMCPct.InexactFloat64()
		q.StartMCPct = &start
	}
	for i := len(p.Readings) - 1; i >= 0; i-- {
		q.Readings = append(q.Readings, p.Readings[i])
	}
	for _, m := range p.Places {
		c, err := climateIn(ctx, db, m.ClimateID)
		if err != nil {
			return q, "", err
		}
		q.Later = append(q.Later, DryPlace{m.FromOn, c.Months})
	}
	return q, "", nil
}

func floatOf(d *decimal.Decimal) float64 {
	if d == nil {
		return 0
	}
	return d.InexactFloat64()
}

// PackRead writes a moisture reading down and works the dry dates out anew. Where no
// corrected moisture is given it follows from the meter's table of the timber, if there is one.
// Errors: Invalid; Conflict when the pack is finished.
func (r *Room) PackRead(ctx context.Context, packID int64, reading Reading) (Pack, error) {
	return r.packChange(ctx, packID, func(ctx context.Context, tx pgx.Tx, p Pack, today time.Time) error {
		species, err := speciesIn(ctx, tx, `id = $1`, p.SpeciesID)
		if err != nil {
			return err
		}
		reading.correct(species)
		if err := checkReading(reading, p, today); err != nil {
			return err
		}
		_, err = tx.Exec(ctx, `INSERT INTO pack_reading (pack_id, read_on, board, meter_pct, mc_pct, correction, correction_source, recorded_at)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`, packID, reading.ReadOn, reading.Board, reading.MeterPct, reading.MCPct, reading.Correction, reading.Source, r.db.Now())
		return postgres.Translate(err)
	})
}

// correct fills in the true moisture and says how it came about.
func (m *Reading) correct(s Species) {
	m.Board = strings.TrimSpace(m.Board)
	m.Correction, m.Source = CorrectedByHand, ""
	if !m.MCPct.IsZero() {
		return
	}
	m.Correction, m.MCPct = Uncorrected, m.MeterPct
	if mc, ok := CorrectMeter(s.MeterTable, m.MeterPct); ok {
		m.Correction, m.MCPct, m.Source = CorrectedByList, mc, s.MeterSource
	}
}

// PackDatesSet stores dry dates that the maker judges himself, for packs without a
// climate. Errors: Invalid, Stale.
func (r *Room) PackDatesSet(ctx context.Context, id int64, version int, d DryDates) (Pack, error) {
	var l fault.List
	l.Check(!d.Never || (d.ReadyOn == nil && d.ReadyOnP80 == nil), "/ready_on", "A pack that never dries has no dates.")
	l.Check((d.ReadyOn == nil) == (d.ReadyOnP80 == nil), "/ready_on_p80", "Give both dates or neither.")
	l.Check(d.ReadyOn == nil || d.ReadyOnP80 == nil || !d.ReadyOnP80.Before(*d.ReadyOn), "/ready_on_p80", "The safer date cannot be the earlier one.")
	if err := l.Err(); err != nil {
		return Pack{}, err
	}
	var out Pack
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		_, err := postgres.Value[int64](ctx, tx, `UPDATE pack SET ready_on = $3, ready_on_p80 = $4, never_dry = $5 WHERE id = $1 AND version = $2 RETURNING id`,
			id, version, d.ReadyOn, d.ReadyOnP80, d.Never)
		if err != nil {
			return postgres.Changed(ctx, tx, err, "pack", id, "this pack")
		}
		out, err = packIn(ctx, tx, id)
		return err
	})
	return out, err
}

// aboveGreen is how far above what was measured when it was stacked a meter may read: a
// share of it, and percent; as the calculation takes it.
const aboveGreenShare, aboveGreenPct = 1.15, 3

func checkReading(m Reading, p Pack, today time.Time) error {
	var l fault.List
	l.Check(!m.ReadOn.IsZero(), "/read_on", "Say on which day it was read.")
	l.Check(!m.ReadOn.After(today), "/read_on", "This day is still to come. Write when it was read.")
	l.Check(!m.ReadOn.Before(p.StackedOn), "/read_on", "The pack was stacked later, on %s.", p.StackedOn.Format(time.DateOnly))
	pctBetween(&l, "/meter_pct", m.MeterPct, 1, 250)
	if m.Correction == CorrectedByHand {
		pctBetween(&l, "/mc_pct", m.MCPct, 1, 250)
	}
	if p.StartMCPct != nil {
		start := p.StartMCPct.InexactFloat64()
		l.Check(m.MCPct.InexactFloat64() <= aboveGreenShare*start+aboveGreenPct, "/meter_pct",
			"%s %% is wetter than the pack was when stacked (%s %%). Look at the meter again, or read another board.", m.MCPct, *p.StartMCPct)
	}
	l.Short("/board", m.Board)
	for _, r := range p.Readings {
		if r.ReadOn.Equal(m.ReadOn) && strings.EqualFold(r.Board, m.Board) {
			l.Add("/board", "%s of this day is written down already, with %s %%. Name another board, or leave it.", boardWords(m.Board), r.MeterPct)
		}
	}
	if n := len(p.Readings); n > 0 && !m.Late {
		l.Check(!m.ReadOn.Before(p.Readings[0].ReadOn), "/read_on", "The pack was read later already, on %s. If this one was only written down late, say so.", p.Readings[0].ReadOn.Format(time.DateOnly))
	}
	l.Check(len(p.Readings) < mostPackReadings, "/read_on", "A pack takes %d readings at most.", mostPackReadings)
	return l.Err()
}

// mostPackReadings bounds the readings of one pack; the calculation takes 1000.
const mostPackReadings = 500

func boardWords(board string) string {
	if board == "" {
		return "A board without a name"
	}
	return "Board " + board
}

// packLock locks a pack that is not finished.
func packLock(ctx context.Context, tx pgx.Tx, id int64) (Pack, error) {
	if _, err := tx.Exec(ctx, `SELECT 1 FROM pack WHERE id = $1 FOR NO KEY UPDATE`, id); err != nil {
		return Pack{}, postgres.Translate(err)
	}
	p, err := packIn(ctx, tx, id)
	if err == nil && p.FinishedAt != nil {
		return p, fault.New(fault.Conflict, "Pack %s is finished: all of it is dressed or gone.", p.Number)
	}
	return p, err
}

// packIn reads one pack whole.
func packIn(ctx context.Context, q postgres.Querier, id int64) (Pack, error) {
	p, err := postgres.One[Pack](ctx, q, selectPack+`WHERE p.id = $1`, id)
	if err != nil {
		return p, err
	}
	p.Content, err = postgres.List[Content](ctx, q, `SELECT length_mm, grade, count FROM pack_content WHERE pack_id = $1 ORDER BY length_mm DESC, grade`, id)
	if err != nil {
		return p, err
	}
	p.Readings, err = postgres.List[Reading](ctx, q, `SELECT read_on, board, meter_pct, mc_pct, correction, correction_source, ready_on, ready_on_p80, never_dry
		FROM pack_reading WHERE pack_id = $1 ORDER BY read_on DESC, id DESC LIMIT 500`, id)
	if err != nil {
		return p, err
	}
	p.Places, err = postgres.List[PackPlace](ctx, q, selectPackPlace, id)
	return p, err
}

// PackGet reads one pack with its content and readings.
func (r *Room) PackGet(ctx context.Context, id int64) (Pack, error) { return packIn(ctx, r.db, id) }

// PackFilter says which packs a list holds.
type PackFilter struct {
	Find     string // beginning of the number
	Finished bool   // finished ones too
	Limit    int
	After    string
}

// PackList gives packs from the newest, and the mark of the next page ("" at the end).
func (r *Room) PackList(ctx context.Context, f PackFilter) ([]Pack, string, error) {
	mark, err := postgres.ReadMark(f.After)
	if err != nil {
		return nil, "", err
	}
	n := postgres.PageSize(f.Limit)
	list, err := postgres.List[Pack](ctx, r.db, selectPack+`WHERE ($1::bigint = 0 OR p.id < $1) AND ($2 OR p.finished_at IS NULL)
		AND ($3 = '' OR p.number LIKE upper($3) || '%') ORDER BY p.id DESC LIMIT $4`, mark.ID, f.Finished, likeLiteral(f.Find), n+1)
	if err != nil {
		return nil, "", err
	}
	page, next := postgres.CutPage(list, n, func(p Pack) postgres.Mark { return postgres.Mark{ID: p.ID} })
	return page, next, nil
}
