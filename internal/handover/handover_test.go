package handover

import (
	"context"
	"errors"
	"testing"
	"time"

	"github.com/jackc/pgx/v5/pgconn"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
	"kerfbook/internal/postgres/pgtest"
)

var noon = time.Date(2026, 3, 2, 2, 0, 0, 0, time.UTC)

type world struct {
	*Room
	db *postgres.DB
}

func newWorld(t *testing.T) *world {
	t.Helper()
	w := &world{db: pgtest.DB(t, postgres.WithClock(func() time.Time { return noon }))}
	w.Room = New(w.db)
	s := house.Standard()
	s.Name = "Test joinery"
	_, err := house.New(w.db).SettingsPut(t.Context(), s)
	require.NoError(t, err)
	return w
}

func day(s string) time.Time {
	d, err := time.Parse(time.DateOnly, s)
	if err != nil {
		panic(err)
	}
	return d
}

// unit makes an order unit and a box that goes with it.
func (w *world) unit(t *testing.T) (unit, box int64) {
	t.Helper()
	unit, err := postgres.Value[int64](t.Context(), w.db, `WITH p AS (INSERT INTO party (name) VALUES ('Ada Quill') RETURNING id),
o AS (INSERT INTO sale_order (number, party_id, happened_at) SELECT 'S' || id, id, now() FROM p RETURNING id),
l AS (INSERT INTO order_line (order_id, position, kind, description, quantity, unit_price_minor, price_ex_tax_minor, tax_minor, price_minor) SELECT id, 1, 'box', 'x', 1, 1, 1, 0, 1 FROM o RETURNING id)
INSERT INTO order_unit (order_line_id, n, wants_box) SELECT id, 1, true FROM l RETURNING id`)
	require.NoError(t, err)
	box, err = postgres.Value[int64](t.Context(), w.db, `INSERT INTO box (serial, finished_at) VALUES (lpad($1::bigint::text, 5, '1'), now()) RETURNING id`, unit)
	require.NoError(t, err)
	return unit, box
}

func TestHandoverKeepsItsSheetAndAsksAfterwards(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	unit, box := w.unit(t)
	colony, err := postgres.Value[int64](t.Context(), w.db, `INSERT INTO colony (number) VALUES ('C0001') RETURNING id`)
	require.NoError(t, err)
	in, out := 21, 19
	h, err := w.Make(t.Context(), Handover{UnitID: unit, BoxID: &box, ColonyID: &colony, ReceivedBy: " Ada ", BeesIn: &in, BeesOut: &out}, func(_ context.Context, h Handover) ([]byte, error) {
		return []byte("%PDF " + h.Number), nil
	})
	require.NoError(t, err)
	require.Equal(t, "H0001", h.Number)
	require.Len(t, *h.CareKey, 28, "136 bits in base 32")
	again, err := w.ByCareKey(t.Context(), *h.CareKey)
	require.NoError(t, err)
	require.Equal(t, "Ada", again.ReceivedBy)
	_, err = w.Make(t.Context(), Handover{UnitID: unit, BoxID: &box, ReceivedBy: "Ada"}, nil)
	require.True(t, fault.Is(err, fault.Conflict))

	questions, err := w.FollowUpsOf(t.Context(), h.ID)
	require.NoError(t, err)
	var due []string
	for _, q := range questions {
		due = append(due, q.DueOn.Format(time.DateOnly))
	}
	require.Equal(t, []string{"2026-03-03", "2026-03-16", "2026-05-01", "2027-03-02"}, due, "1, 14, 60 and 365 days after 2 March 2026")
	open, err := w.FollowUpsDue(t.Context(), day("2026-03-16"))
	require.NoError(t, err)
	require.Len(t, open, 2)
	answer := func(a, why string) error {
		_, err := w.FollowUpAnswer(t.Context(), open[0].ID, Told{Answer: a, Why: why})
		return err
	}
	require.True(t, fault.Is(answer("lost", " "), fault.Invalid))
	require.True(t, fault.Is(answer("fine", ""), fault.Invalid))
	require.NoError(t, answer("weak", ""))
	require.True(t, fault.Is(answer("alive", ""), fault.Conflict), "answered twice")
}

func TestHandoverRefusesWhatCannotBe(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	unit, box := w.unit(t)
	many := 5000
	for name, h := range map[string]Handover{
		"nobody received it": {UnitID: unit, BoxID: &box},
		"in the future":      {UnitID: unit, ReceivedBy: "A", HappenedAt: noon.AddDate(0, 0, 1)},
		"too many bees":      {UnitID: unit, ReceivedBy: "A", BeesIn: &many},
	} {
		_, err := w.Make(t.Context(), h, nil)
		require.True(t, fault.Is(err, fault.Invalid), "%s: %v", name, err)
	}
	_, err := w.Make(t.Context(), Handover{UnitID: unit, ReceivedBy: "A"}, func(context.Context, Handover) ([]byte, error) { return nil, errors.New("no ink") })
	require.Error(t, err)
	list, _, err := w.List(t.Context(), 10, "")
	require.NoError(t, err)
	require.Empty(t, list, "nothing half-done")
}

func TestRunIsPlannedClosedOpenedAndPutOff(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	a, _ := w.unit(t)
	b, _ := w.unit(t)
	_, err := w.RunMake(t.Context(), Run{RunOn: day("2026-03-01"), Stops: []Stop{{UnitID: &a}}})
	require.True(t, fault.Is(err, fault.Invalid), "past")
	_, err = w.RunMake(t.Context(), Run{RunOn: day("2026-03-05")})
	require.True(t, fault.Is(err, fault.Invalid), "no stops")
	_, err = w.RunMake(t.Context(), Run{RunOn: day("2026-03-05"), Stops: make([]Stop, 2000)})
	require.True(t, fault.Is(err, fault.Invalid), "two thousand stops")
	run, err := w.RunMake(t.Context(), Run{RunOn: day("2026-03-05"), Stops: []Stop{{UnitID: &a, What: "Box with bees"}, {UnitID: &b}}})
	require.NoError(t, err)
	require.Equal(t, "R0001", run.Number)
	require.Equal(t, "Ada Quill", run.Stops[0].PartyName)

	require.NoError(t, w.RunPutOff(t.Context(), run.ID, run.Version, day("2026-03-06"), "38 degrees forecast"))
	require.True(t, fault.Is(w.RunPutOff(t.Context(), run.ID, run.Version, day("2026-03-07"), "rain"), fault.Stale))
	require.NoError(t, w.StopMark(t.Context(), run.Stops[0].ID, "closed", noon.Add(-40*time.Hour)))
	closed, err := w.StillClosed(t.Context())
	require.NoError(t, err)
	require.Len(t, closed, 1)
	require.True(t, fault.Is(w.StopMark(t.Context(), run.Stops[0].ID, "opened", noon.Add(-50*time.Hour)), fault.Invalid), "opened before it was closed")
	require.NoError(t, w.StopMark(t.Context(), run.Stops[0].ID, "opened", noon))
	for _, s := range run.Stops {
		require.NoError(t, w.StopMark(t.Context(), s.ID, "done", noon))
	}
	run, err = w.RunGet(t.Context(), run.ID)
	require.NoError(t, err)
	require.NotNil(t, run.DoneAt)
}

func TestPuttingOffTellsEveryBuyerAgain(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	ctx := t.Context()
	a, box := w.unit(t)
	b, _ := w.unit(t)
	_, err := w.db.Exec(ctx, `INSERT INTO order_unit (order_line_id, n, wants_box) SELECT order_line_id, 2, true FROM order_unit WHERE id = $1`, a)
	require.NoError(t, err)
	second, err := postgres.Value[int64](ctx, w.db, `SELECT max(id) FROM order_unit`)
	require.NoError(t, err)
	run, err := w.RunMake(ctx, Run{RunOn: day("2026-03-05"), Stops: []Stop{{UnitID: &a}, {UnitID: &b}, {UnitID: &second}}})
	require.NoError(t, err)
	for _, c := range []struct{ name, to, because string }{
		{"past", "2026-03-01", "heat"}, {"the same day", "2026-03-05", "heat"}, {"no reason", "2026-03-06", " "},
	} {
		require.True(t, fault.Is(w.RunPutOff(ctx, run.ID, run.Version, day(c.to), c.because), fault.Invalid), c.name)
	}
	require.True(t, fault.Is(w.RunPutOff(ctx, 999, 1, day("2026-03-06"), "heat"), fault.NotFound))

	put := func(to string) Run {
		run, err = w.RunGet(ctx, run.ID)
		require.NoError(t, err)
		require.NoError(t, w.RunPutOff(ctx, run.ID, run.Version, day(to), "heat"))
		run, err = w.RunGet(ctx, run.ID)
		require.NoError(t, err)
		require.Equal(t, to, run.RunOn.Format(time.DateOnly))
		require.Len(t, run.Stops, 3, "all stops go along")
		return run
	}
	put("2026-03-06")
	require.NoError(t, w.StopMark(ctx, run.Stops[0].ID, "told", noon))
	run, err = w.RunGet(ctx, run.ID)
	require.NoError(t, err)
	told := func() (out []bool) {
		for _, s := range run.Stops {
			out = append(out, s.ToldAt != nil)
		}
		return out
	}
	require.Equal(t, []bool{true, false, true}, told(), "the buyer of two pieces is told once, the other not")
	put("2026-03-08")
	require.Equal(t, []bool{false, false, false}, told(), "a new day is new to all")

	freed, err := postgres.Value[bool](ctx, w.db, `SELECT exists (SELECT 1 FROM order_unit WHERE cancelled_at IS NOT NULL) OR NOT exists (SELECT 1 FROM box WHERE id = $1)`, box)
	require.NoError(t, err)
	require.False(t, freed)
	require.NoError(t, w.RunCancel(ctx, run.ID, run.Version))
	require.True(t, fault.Is(w.RunPutOff(ctx, run.ID, run.Version+1, day("2026-03-09"), "heat"), fault.Conflict))
}

func TestSchemaRefuses(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	unit, box := w.unit(t)
	_, err := w.Make(t.Context(), Handover{UnitID: unit, BoxID: &box, ReceivedBy: "Ada"}, nil)
	require.NoError(t, err)
	for _, c := range []struct{ name, constraint, sql string }{
		{"a unit handed over twice", "handover_one_a_unit", `INSERT INTO handover (number, order_unit_id, happened_at, received_by) SELECT 'H9', order_unit_id, now(), 'x' FROM handover`},
		{"received by nobody", "handover_received_by", `UPDATE handover SET received_by = ' '`},
		{"answered without an answer", "follow_up_answered", `UPDATE follow_up SET answered_at = now()`},
		{"two questions on a day", "follow_up_once", `INSERT INTO follow_up (handover_id, due_on) SELECT handover_id, due_on FROM follow_up`},
	} {
		_, err := w.db.Exec(t.Context(), c.sql)
		var pg *pgconn.PgError
		require.True(t, errors.As(err, &pg), "%s was not refused: %v", c.name, err)
		require.Equal(t, c.constraint, pg.ConstraintName, c.name)
	}
}
