package timber_test

import (
	"context"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/claims"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
	"kerfbook/internal/postgres/pgtest"
	"kerfbook/internal/timber"

	"github.com/jackc/pgx/v5"
)

// now is half past eight in the morning of 3 March 2026 in Brisbane, still the second
// of March in UTC.
var now = time.Date(2026, 3, 2, 22, 30, 0, 0, time.UTC)

func d(s string) decimal.Decimal { return decimal.RequireFromString(s) }

func day(s string) time.Time {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		panic(err)
	}
	return t
}

type world struct {
	t       *testing.T
	db      *postgres.DB
	room    *timber.Room
	species timber.Species // hoop pine, 3.20 a metre of 100 x 28
	build   int64
	build2  int64
	asked   []timber.DryQuestion
}

func newWorld(t *testing.T) *world {
	t.Helper()
	w := &world{t: t, db: pgtest.DB(t, postgres.WithClock(func() time.Time { return now }))}
	set := house.Standard()
	set.Name = "Creek Workshop"
	_, err := house.New(w.db).SettingsPut(t.Context(), set)
	require.NoError(t, err)
	w.room = timber.New(w.db, func(_ context.Context, q timber.DryQuestion) (timber.DryDates, error) {
		w.asked = append(w.asked, q)
		on, p80 := q.StackedOn.AddDate(0, 0, 100+len(q.Readings)), q.StackedOn.AddDate(0, 0, 120+len(q.Readings))
		return timber.DryDates{ReadyOn: &on, ReadyOnP80: &p80}, nil
	})
	w.species, err = w.room.SpeciesSave(t.Context(), timber.Species{Code: "hoop-pine", Name: "hoop pine", DensityKgM3: ptr(d("530")), MetreCostMinor: 320, Source: "test"})
	require.NoError(t, err)
	model := w.id(`INSERT INTO box_model (code, name) VALUES ('plain', 'Plain box') RETURNING id`)
	rev := w.id(`INSERT INTO model_revision (model_id, revision, body) VALUES ($1, 1, '{}') RETURNING id`, model)
	w.build = w.id(`INSERT INTO build (number, model_revision_id, quantity) VALUES ('B1', $1, 1) RETURNING id`, rev)
	w.build2 = w.id(`INSERT INTO build (number, model_revision_id, quantity) VALUES ('B2', $1, 1) RETURNING id`, rev)
	return w
}

func (w *world) id(sql string, args ...any) int64 {
	w.t.Helper()
	id, err := postgres.Value[int64](w.t.Context(), w.db, sql, args...)
	require.NoError(w.t, err)
	return id
}

// key is 100 x 28 hoop pine of a length.
func (w *world) key(lengthMM int) timber.LotKey {
	return timber.LotKey{SpeciesID: w.species.ID, WidthMM: d("100"), ThicknessMM: d("28"), LengthMM: lengthMM}
}

// lot puts boards on the rack.
func (w *world) lot(lengthMM, count int) timber.Lot {
	w.t.Helper()
	l, err := w.room.LotIn(w.t.Context(), w.key(lengthMM), count, timber.Opening, now.Add(-time.Hour), "")
	require.NoError(w.t, err)
	return l
}

func (w *world) item(i timber.Item) timber.Item {
	w.t.Helper()
	i, err := w.room.ItemSave(w.t.Context(), i)
	require.NoError(w.t, err)
	return i
}

func (w *world) claim(wants ...claims.Want) {
	w.t.Helper()
	require.NoError(w.t, w.db.WithTx(w.t.Context(), func(ctx context.Context, tx pgx.Tx) error {
		_, err := claims.Put(ctx, tx, now, wants)
		return err
	}))
}
