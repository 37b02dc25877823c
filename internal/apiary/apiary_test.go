package apiary

import (
	"context"
	"errors"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
	"kerfbook/internal/postgres/pgtest"
)

// noon is the invented present of these tests: 2 November 2026 in Brisbane.
var noon = time.Date(2026, 11, 2, 2, 0, 0, 0, time.UTC)

type world struct {
	*Room
	db      *postgres.DB
	species Species
}

func newWorld(t *testing.T) *world {
	t.Helper()
	w := &world{db: pgtest.DB(t, postgres.WithClock(func() time.Time { return noon }))}
	w.Room = New(w.db)
	s := house.Standard()
	s.Name = "Test apiary"
	_, err := house.New(w.db).SettingsPut(t.Context(), s)
	require.NoError(t, err)
	for _, sp := range StandardSpecies() {
		sp, err = w.SpeciesPut(t.Context(), sp)
		require.NoError(t, err)
		if w.species.ID == 0 {
			w.species = sp
		}
	}
	return w
}

func day(s string) *time.Time {
	d, err := time.Parse(time.DateOnly, s)
	if err != nil {
		panic(err)
	}
	return &d
}

func (w *world) box(t *testing.T, serial string, cured *time.Time) int64 {
	t.Helper()
	id, err := postgres.Value[int64](t.Context(), w.db, `INSERT INTO box (serial, finished_at, cured_on) VALUES ($1, $2, $3) RETURNING id`, serial, noon.AddDate(0, -1, 0), cured)
	require.NoError(t, err)
	_, err = w.db.Exec(t.Context(), `INSERT INTO box_owner (box_id, from_at) VALUES ($1, now())`, id)
	require.NoError(t, err)
	return id
}

func (w *world) colony(t *testing.T, change func(*NewColony)) Colony {
	t.Helper()
	n := NewColony{SpeciesID: w.species.ID, SpeciesSure: true, Dwelling: "log", BeganOn: day("2025-01-10"), SettledOn: day("2025-04-01"), Place: "behind the shed"}
	if change != nil {
		change(&n)
	}
	c, err := w.ColonyMake(t.Context(), n)
	require.NoError(t, err)
	return c
}

// unit makes an order unit to claim for.
func (w *world) unit(t *testing.T) int64 {
	t.Helper()
	id, err := postgres.Value[int64](t.Context(), w.db, `WITH p AS (INSERT INTO party (name) VALUES ('x') RETURNING id),
o AS (INSERT INTO sale_order (number, party_id, happened_at) SELECT 'S' || id, id, now() FROM p RETURNING id),
l AS (INSERT INTO order_line (order_id, position, kind, description, quantity, unit_price_minor, price_ex_tax_minor, tax_minor, price_minor) SELECT id, 1, 'colony', 'x', 1, 1, 1, 0, 1 FROM o RETURNING id)
INSERT INTO order_unit (order_line_id, n, wants_colony) SELECT id, 1, true FROM l RETURNING id`)
	require.NoError(t, err)
	return id
}

func TestSplitMakesAChildThatSettlesLater(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	mother := w.colony(t, nil)
	box := w.box(t, "10016", nil)
	child, err := w.Split(t.Context(), Splitting{ParentID: mother.ID, BoxID: box, Note: "top half went"})
	require.NoError(t, err)
	require.Equal(t, "C0002", child.Number)
	require.Equal(t, "settling", child.State(*day("2026-11-02")))
	require.Equal(t, "2027-01-11", child.SettlesAbout.Format(time.DateOnly), "ten weeks after 2 November 2026")
	require.Equal(t, box, *child.BoxID)
	parents, err := w.ParentsOf(t.Context(), child.ID)
	require.NoError(t, err)
	require.Equal(t, mother.ID, parents[0].ParentID)

	other := w.colony(t, nil)
	_, err = w.Split(t.Context(), Splitting{ParentID: other.ID, BoxID: box})
	require.True(t, fault.Is(err, fault.Conflict), "one colony a box")
	_, err = w.ColonyMake(t.Context(), NewColony{SpeciesID: w.species.ID})
	require.NoError(t, err)
}

func TestNoColonyIsItsOwnAncestor(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	a := w.colony(t, nil)
	b := w.colony(t, func(n *NewColony) { n.Parents = []Parent{{ParentID: a.ID, Kind: "split"}} })
	c := w.colony(t, func(n *NewColony) { n.Parents = []Parent{{ParentID: b.ID, Kind: "brood given"}} })
	for _, parent := range []int64{a.ID, c.ID} {
		_, err := w.db.Exec(t.Context(), `INSERT INTO colony_parent (colony_id, parent_id, kind) VALUES ($1, $2, 'united')`, a.ID, parent)
		var pg *pgconn.PgError
		require.True(t, errors.As(err, &pg), "%v", err)
		require.Contains(t, []string{"colony_parent_no_ring", "colony_parent_not_itself"}, pg.ConstraintName)
		require.True(t, fault.Is(postgres.Translate(err), fault.Conflict))
	}
}

func TestHousingWarnsOfAFreshFinishAndKeepsOneColonyABox(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	c := w.colony(t, nil)
	fresh := w.box(t, "10024", day("2026-11-20"))
	warnings, err := w.House(t.Context(), c.ID, "", &fresh, "", time.Time{})
	require.NoError(t, err)
	require.Len(t, warnings, 1)
	require.Contains(t, warnings[0], "20 November 2026")
	got, err := w.ColonyGet(t.Context(), c.ID)
	require.NoError(t, err)
	require.Equal(t, "10024", *got.BoxSerial)
	second := w.colony(t, nil)
	_, err = w.House(t.Context(), second.ID, "", &fresh, "", time.Time{})
	require.True(t, fault.Is(err, fault.Conflict))
	still, err := w.ColonyGet(t.Context(), second.ID)
	require.NoError(t, err)
	require.Equal(t, "log", *still.Dwelling, "nothing half-done")
}

func TestHeldBackAndLostColoniesAreNotPromised(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	claim := func(colony int64) error {
		unit := w.unit(t)
		return w.db.WithTx(t.Context(), func(ctx context.Context, tx pgx.Tx) error {
			_, err := claims.Put(ctx, tx, noon, []claims.Want{{For: claims.Unit(unit), Thing: claims.Colony(colony), Quantity: 1, Strength: claims.PutAside}})
			return err
		})
	}
	theirs := w.colony(t, func(n *NewColony) {
		id, err := postgres.Value[int64](t.Context(), w.db, `INSERT INTO party (name) VALUES ('Ada Quill') RETURNING id`)
		require.NoError(t, err)
		n.OwnerID = &id
	})
	require.True(t, fault.Is(claim(theirs.ID), fault.Conflict) || fault.Is(claim(theirs.ID), fault.Invalid), "another's colony")
	c := w.colony(t, nil)
	require.NoError(t, claim(c.ID))
	require.True(t, fault.Is(claim(c.ID), fault.Conflict), "promised twice")
	require.NoError(t, w.HoldBack(t.Context(), c.ID, "chalk in the brood"))
	broken, err := claims.BrokenList(t.Context(), w.db, noon.AddDate(0, 0, -1))
	require.NoError(t, err)
	require.Len(t, broken, 1)
	require.Error(t, claim(c.ID))
	_, err = w.Split(t.Context(), Splitting{ParentID: c.ID, BoxID: w.box(t, "10032", nil)})
	require.True(t, fault.Is(err, fault.Conflict))
	away := Move{ColonyID: c.ID, Place: "the far paddock", At: noon}
	require.True(t, fault.Is(w.Give(t.Context(), away), fault.Conflict), "held back is not moved")
	_, err = w.House(t.Context(), c.ID, "other", nil, "a crate", noon)
	require.True(t, fault.Is(err, fault.Conflict), "nor housed elsewhere")
	require.NoError(t, w.Release(t.Context(), c.ID))
	require.NoError(t, w.Give(t.Context(), away), "released, it moves")
	require.NoError(t, claim(c.ID))
	require.NoError(t, w.End(t.Context(), c.ID, "flooded", noon))
	require.Error(t, claim(c.ID))
	require.True(t, fault.Is(w.Settle(t.Context(), c.ID, *day("2026-11-02")), fault.Conflict))
}

func TestGivingAColonyWritesTheMovementRecord(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	c := w.colony(t, nil)
	owner, err := postgres.Value[int64](t.Context(), w.db, `INSERT INTO party (name) VALUES ('Ada Quill') RETURNING id`)
	require.NoError(t, err)
	require.NoError(t, w.Give(t.Context(), Move{ColonyID: c.ID, ChangesOwner: true, OwnerID: &owner, Place: "12 Gully Road", At: noon}))
	got, err := w.ColonyGet(t.Context(), c.ID)
	require.NoError(t, err)
	require.False(t, got.Ours())
	require.Equal(t, "Ada Quill", got.KeeperName)
	moves, err := w.MovementList(t.Context(), noon.AddDate(0, 0, -1), noon.AddDate(0, 0, 1))
	require.NoError(t, err)
	require.Equal(t, "behind the shed", moves[0].FromPlace)
	require.Equal(t, "12 Gully Road", moves[0].ToPlace)
	_, err = w.db.Exec(t.Context(), `UPDATE movement SET to_place = 'x'`)
	require.Error(t, err)
}

func TestStandardSpeciesNameASourceForEachFigure(t *testing.T) {
	t.Parallel()
	for _, s := range StandardSpecies() {
		src := s.Sources()
		for column, there := range map[string]bool{
			"flight_min_c": s.FlightMinC != nil, "heat_limit_c": s.HeatLimitC != nil, "cold_limit_c": s.ColdLimitC != nil, "flight_range_m": s.FlightRangeM != nil,
			"longest_closed_hours": s.LongestClosedHours != nil, "settling_weeks": s.SettlingWeeks != nil, "split_interval_months": s.SplitIntervalMonths != nil,
			"split_months": len(s.SplitMonths) > 0, "split_chance_pct": s.SplitChancePct > 0, "natural_range": s.NaturalRange != "",
		} {
			require.Equal(t, there, src[column] != "", "%s %s", s.Code, column)
		}
		require.False(t, s.InRange("WA"), "none of the three is native to the south-west; none may be brought into Western Australia (sugarbag.net/FAQ, T. Heard)")
		require.True(t, s.InRange("qld"))
	}
}
