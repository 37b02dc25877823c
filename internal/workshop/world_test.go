package workshop_test

import (
	"context"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/hive"
	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
	"kerfbook/internal/postgres/pgtest"
	"kerfbook/internal/timber"
	"kerfbook/internal/workshop"
)

// monday is half past seven on Monday 2 March 2026 in Brisbane, where there is no
// daylight saving.
var monday = time.Date(2026, 3, 1, 21, 30, 0, 0, time.UTC)

func d(s string) decimal.Decimal { return decimal.RequireFromString(s) }

func ptr[T any](v T) *T { return &v }

func day(s string) time.Time {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		panic(err)
	}
	return t
}

// world is a workshop with one small model, one timber and a clock that tests move.
type world struct {
	t       *testing.T
	now     time.Time
	db      *postgres.DB
	room    *workshop.Room
	timber  *timber.Room
	species timber.Species
	screws  timber.Item
	model   workshop.Model
	rev     workshop.Revision
	honey   workshop.Option // one more honey section
	oiled   workshop.Option // 7 days to cure, a batch step
	owner   int64           // accounts
	helper  int64
	unit    int64 // order units
	unit2   int64
	buyer   int64
}

// body is a box of two sections, each of four parts: brood 300 mm long, honey 200 mm.
func body() hive.Model {
	size := hive.BoardSize{WidthMM: 100, ThicknessMM: 28}
	return hive.Model{HeldFrom: "outside", LengthMM: 300, WidthMM: 200, WallMM: 28,
		Sections: []hive.Section{{ID: "brood", Kind: "brood", HeightMM: 100, Count: 1}, {ID: "honey", Kind: "honey", HeightMM: 100, Count: 1}},
		Parts: []hive.Part{
			{ID: "brood-side", Name: "brood side", Section: "brood", Count: 4, BoardSize: size, Length: hive.Length{Length: 1}},
			{ID: "honey-side", Name: "honey side", Section: "honey", Count: 4, BoardSize: size, Length: hive.Length{Width: 1}},
		},
		Fittings:   []hive.Fitting{{ID: "screw-50", Count: 16}},
		Operations: []hive.Operation{{ID: "cut", SetupMinutes: 20, PieceMinutes: 10}, {ID: "glue", PieceMinutes: 30, WaitMinutes: 720, Needs: []string{"clamps"}}}}
}

func newWorld(t *testing.T) *world {
	t.Helper()
	w := &world{t: t, now: monday}
	w.db = pgtest.DB(t, postgres.WithClock(func() time.Time { return w.now }))
	ctx := t.Context()
	set := house.Standard()
	set.Name = "Creek Workshop"
	set.TrimMM, set.SawKerfMM = d("0"), d("0") // so that lengths add up in the head
	_, err := house.New(w.db).SettingsPut(ctx, set)
	require.NoError(t, err)
	w.room, w.timber = workshop.New(w.db), timber.New(w.db, nil)
	w.species, err = w.timber.SpeciesSave(ctx, timber.Species{Code: "hoop-pine", Name: "hoop pine", MetreCostMinor: 300})
	require.NoError(t, err)
	w.screws, err = w.timber.ItemSave(ctx, timber.Item{Code: "screw-50", Name: "screw 50 mm", Kind: "fitting", Counted: true, CostMinor: 10})
	require.NoError(t, err)
	w.model, err = w.room.ModelSave(ctx, workshop.Model{Code: "plain", Name: "Plain box"})
	require.NoError(t, err)
	w.rev, err = w.room.RevisionAdd(ctx, workshop.Drawing{ModelID: w.model.ID, Body: body()})
	require.NoError(t, err)
	w.honey, err = w.room.OptionSave(ctx, workshop.Option{Code: "more-honey", Name: "one more honey section", Kind: "section", ModelID: &w.model.ID, Section: "honey",
		Fittings: []hive.Fitting{{ID: "screw-50", Count: 4}}})
	require.NoError(t, err)
	w.oiled, err = w.room.OptionSave(ctx, workshop.Option{Code: "oiled", Name: "oiled", Kind: "finish", CureDays: 7,
		Operations: []hive.Operation{{ID: "oil", SetupMinutes: 10, PieceMinutes: 5}}})
	require.NoError(t, err)
	const account = `INSERT INTO account (sign_in, name, role, password_hash) VALUES ($1, $2, $3, 'x') RETURNING id`
	w.owner, w.helper = w.id(account, "mara", "Mara", "owner"), w.id(account, "jo", "Jo", "helper")
	w.buyer = w.id(`INSERT INTO party (name) VALUES ('Buyer') RETURNING id`)
	order := w.id(`INSERT INTO sale_order (number, party_id, happened_at) VALUES ('K1', $1, now()) RETURNING id`, w.buyer)
	line := w.id(`INSERT INTO order_line (order_id, position, kind, description, quantity, unit_price_minor, price_ex_tax_minor, tax_minor, price_minor)
		VALUES ($1, 1, 'box', 'box', 2, 1, 2, 0, 2) RETURNING id`, order)
	const unit = `INSERT INTO order_unit (order_line_id, n, wants_box, promised_box_on) VALUES ($1, $2, true, '2026-04-01') RETURNING id`
	w.unit, w.unit2 = w.id(unit, line, 1), w.id(unit, line, 2)
	return w
}

func (w *world) id(sql string, args ...any) int64 {
	w.t.Helper()
	id, err := postgres.Value[int64](w.t.Context(), w.db, sql, args...)
	require.NoError(w.t, err)
	return id
}

// lot puts boards of 100 x 28 hoop pine on the rack.
func (w *world) lot(lengthMM, count int) timber.Lot {
	w.t.Helper()
	l, err := w.timber.LotIn(w.t.Context(), timber.LotKey{SpeciesID: w.species.ID, WidthMM: d("100"), ThicknessMM: d("28"), LengthMM: lengthMM}, count, timber.Opening, w.now, "")
	require.NoError(w.t, err)
	return l
}

func (w *world) haveScrews(n int) {
	w.t.Helper()
	_, err := w.timber.MoveBook(w.t.Context(), timber.Move{Thing: claims.Item(w.screws.ID), Quantity: n, Kind: timber.Opening, HappenedAt: w.now})
	require.NoError(w.t, err)
}

// build makes a build of plain boxes.
func (w *world) build(n int, change ...func(*workshop.BuildNew)) workshop.Build {
	w.t.Helper()
	in := workshop.BuildNew{RevisionID: w.rev.ID, Quantity: n, SpeciesID: w.species.ID}
	for _, c := range change {
		c(&in)
	}
	b, err := w.room.BuildMake(w.t.Context(), in)
	require.NoError(w.t, err)
	return b
}

func (w *world) tx(body func(ctx context.Context, tx pgx.Tx) error) error {
	return w.db.WithTx(w.t.Context(), body)
}

func requireField(t *testing.T, err error, kind fault.Kind, pointer string) {
	t.Helper()
	var f *fault.Error
	require.ErrorAs(t, err, &f)
	require.Equal(t, kind, f.Kind, "%v", err)
	pointers := []string{}
	for _, one := range f.Fields {
		pointers = append(pointers, one.Pointer)
	}
	require.Contains(t, pointers, pointer, "%v", err)
}
