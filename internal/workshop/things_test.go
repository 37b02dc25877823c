package workshop_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/hive"
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
	"kerfbook/internal/postgres/pgtest"
	"kerfbook/internal/workshop"
)

// thing gives the limited thing of a name.
func (w *world) thing(name string) workshop.Thing {
	w.t.Helper()
	list, err := w.room.ThingList(w.t.Context(), true)
	require.NoError(w.t, err)
	for _, x := range list {
		if x.Name == name {
			x, err = w.room.ThingGet(w.t.Context(), x.ID)
			require.NoError(w.t, err)
			return x
		}
	}
	require.Failf(w.t, "no such thing", "%q in %v", name, list)
	return workshop.Thing{}
}

func TestLimitedThings(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.haveScrews(1000)
	clamps := w.thing("clamps")
	require.Equal(t, 1, clamps.Count, "the drawing named them, so they are put down, one until somebody counts")
	require.True(t, clamps.Used)
	tests := []struct {
		name, pointer string
		thing         workshop.Thing
	}{
		{"no name", "/name", workshop.Thing{Count: 1}},
		{"blanks for a name", "/name", workshop.Thing{Name: "  ", Count: 1}},
		{"none of it", "/count", workshop.Thing{Name: "rack"}},
		{"fewer than none", "/count", workshop.Thing{Name: "rack", Count: -1}},
		{"more than anybody has", "/count", workshop.Thing{Name: "rack", Count: 1001}},
		{"the count in the name", "/name", workshop.Thing{Name: "rack x3", Count: 1}},
		{"the owner as a thing", "/name", workshop.Thing{Name: "The owner's own hands", Count: 2}},
		{"a name that work knows otherwise", "/name", workshop.Thing{ID: clamps.ID, Version: clamps.Version, Name: "vices", Count: 1}},
	}
	for _, tc := range tests {
		t.Run(tc.name, func(t *testing.T) {
			_, err := w.room.ThingSave(t.Context(), tc.thing)
			requireField(t, err, fault.Invalid, tc.pointer)
		})
	}
	_, err := w.room.ThingSave(t.Context(), workshop.Thing{Name: "CLAMPS", Count: 4})
	require.True(t, fault.Is(err, fault.Conflict), "%v", err)
	clamps.Count = 3
	clamps, err = w.room.ThingSave(t.Context(), clamps)
	require.NoError(t, err)
	_, err = w.room.ThingSave(t.Context(), workshop.Thing{ID: clamps.ID, Version: clamps.Version - 1, Name: "clamps", Count: 2})
	require.True(t, fault.Is(err, fault.Stale), "%v", err)

	// A drawing names it as the record does, whatever is typed; what it does not know yet is put down.
	drawn := body()
	drawn.Operations = []hive.Operation{{ID: "glue", PieceMinutes: 5, Needs: []string{"Clamps", "clamps x9", " drying rack x4 "}}}
	rev, err := w.room.RevisionAdd(t.Context(), workshop.Drawing{ModelID: w.model.ID, Body: drawn, Reason: "racks"})
	require.NoError(t, err)
	require.Equal(t, []string{"clamps", "clamps", "drying rack"}, rev.Body.Operations[0].Needs)
	require.Equal(t, []int{3, 4}, []int{w.thing("clamps").Count, w.thing("drying rack").Count})
	_, err = w.room.OptionSave(t.Context(), workshop.Option{Code: "x", Name: "x", Kind: "other", Operations: []hive.Operation{{ID: "y", Needs: []string{"clamps", ""}}}})
	requireField(t, err, fault.Invalid, "/operations/0/needs/1")
	rack := w.thing("drying rack")
	rack.PutAwayAt = ptr(w.now)
	_, err = w.room.ThingSave(t.Context(), rack)
	require.NoError(t, err)
	_, err = w.room.RevisionAdd(t.Context(), workshop.Drawing{ModelID: w.model.ID, Body: drawn, Reason: "again"})
	requireField(t, err, fault.Invalid, "/body/operations/0/needs/2")
	list, err := w.room.ThingList(t.Context(), false)
	require.NoError(t, err)
	require.Len(t, list, 1, "put away is not offered")
}

// A count that falls, and a thing put away, show which builds they hurt; the plan leaves
// out what can never be done, and says why.
func TestThingThatIsMissedHurtsBuilds(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.haveScrews(1000)
	// Two people from 8 to 12. A build of 4 takes 60 minutes of cutting, 120 in the clamps.
	week := workshop.Week{FromOn: day("2026-01-01")}
	for d := 1; d <= 5; d++ {
		week.Hours = append(week.Hours, workshop.Hours{Weekday: d, StartMinute: 480, EndMinute: 720, Hands: 2})
	}
	require.NoError(t, w.room.WeekSet(t.Context(), week))
	clamps := w.thing("clamps")
	clamps.Count = 2
	clamps, err := w.room.ThingSave(t.Context(), clamps)
	require.NoError(t, err)
	one, two := w.build(4), w.build(4, func(n *workshop.BuildNew) { n.DueOn = ptr(day("2026-03-02")) })
	uses, err := w.room.ThingUses(t.Context(), clamps.ID, 2)
	require.NoError(t, err)
	require.Len(t, uses, 2)
	for _, u := range uses {
		require.Equal(t, []string{"glue"}, u.Operations)
		require.Equal(t, []time.Time{day("2026-03-02"), day("2026-03-02")}, []time.Time{*u.EndsOn, *u.ThenOn}, "by hand: both are cut by 9 and glued by 11, side by side")
		require.False(t, u.Hurt())
	}
	uses, err = w.room.ThingUses(t.Context(), clamps.ID, 1)
	require.NoError(t, err)
	require.True(t, uses[0].Hurt())
	require.Equal(t, one.ID, uses[0].BuildID, "the one without a date waits")
	require.Equal(t, day("2026-03-03"), *uses[0].ThenOn, "by hand: the clamps are free at 11, two hours are more than what is left")
	require.False(t, uses[1].Hurt())
	require.Equal(t, two.ID, uses[1].BuildID)

	clamps.PutAwayAt = ptr(w.now)
	uses, err = w.room.ThingUses(t.Context(), clamps.ID, 0)
	require.NoError(t, err)
	for _, u := range uses {
		require.True(t, u.Hurt())
		require.Nil(t, u.ThenOn)
		require.Contains(t, u.Why, `"glue" needs clamps`)
	}
	_, err = w.room.ThingSave(t.Context(), clamps)
	require.NoError(t, err)
	p, err := w.room.PlanLay(t.Context(), "", workshop.PlanChange{})
	require.NoError(t, err)
	require.Empty(t, p.Steps)
	require.Len(t, p.Left, 2)
	require.Contains(t, p.Left[0].Why, "Take it up again")
	b, err := w.room.Bench(t.Context(), time.FixedZone("Brisbane", 10*60*60))
	require.NoError(t, err)
	require.Len(t, b.Lost(), 2)
	_, err = w.room.PlanLay(t.Context(), "", workshop.PlanChange{BuildID: two.ID, HoldTo: ptr(day("2026-03-04"))})
	require.True(t, fault.Is(err, fault.Conflict), "%v", err)
	require.Contains(t, err.Error(), "needs clamps")
	for _, o := range one.Operations { // what is done needs it no more
		_, err = w.room.OperationDone(t.Context(), o.ID, true, w.now)
		require.NoError(t, err)
	}
	b, err = w.room.Bench(t.Context(), time.FixedZone("Brisbane", 10*60*60))
	require.NoError(t, err)
	require.Len(t, b.Lost(), 1)
	_, err = w.room.ThingUses(t.Context(), clamps.ID, -1)
	requireField(t, err, fault.Invalid, "/count")
}

// The counts that stood in names until then move into records, the names of open work lose
// them, and drawings, which never change, go on to mean the same.
func TestMigrationMovesCountsOutOfNames(t *testing.T) {
	t.Parallel()
	db := pgtest.EmptyDB(t)
	require.NoError(t, postgres.MigrateTo(t.Context(), db, beforeThings))
	for _, sql := range []string{
		`INSERT INTO box_model (code, name) VALUES ('plain', 'Plain')`,
		`INSERT INTO model_revision (model_id, revision, body) SELECT id, 1, '{"operations": [{"id": "glue", "needs": ["clamps x3", "Clamps"]}, {"id": "cut"}, {"id": "odd", "needs": ["x2", "router x0", "jig x1001", ""]}]}' FROM box_model`,
		`INSERT INTO box_option (code, name, kind, operations) VALUES ('oiled', 'oiled', 'finish', '[{"id": "oil", "needs": ["paint rack x2"]}]')`,
		`INSERT INTO build (number, model_revision_id, quantity) SELECT 'B1', id, 1 FROM model_revision`,
		`INSERT INTO build_operation (build_id, position, name, needs) SELECT id, 1, 'glue', '["saw", "clamps x5"]' FROM build`,
	} {
		_, err := db.Exec(t.Context(), sql)
		require.NoError(t, err, sql)
	}
	require.NoError(t, postgres.Migrate(t.Context(), db))
	list, err := workshop.New(db).ThingList(t.Context(), false)
	require.NoError(t, err)
	counts := map[string]int{}
	for _, x := range list {
		counts[x.Name] = x.Count
	}
	require.Len(t, counts, 6)
	require.Equal(t, 5, counts["clamps"]+counts["Clamps"], "one of each name, the largest count that a name had")
	for name, want := range map[string]int{"paint rack": 2, "saw": 1, "x2": 1, "router x0": 1, "jig x1001": 1} {
		require.Equal(t, want, counts[name], name)
	}
	needs, err := postgres.Value[string](t.Context(), db, `SELECT needs::text FROM build_operation`)
	require.NoError(t, err)
	require.JSONEq(t, `["saw", "clamps"]`, needs)
}

// beforeThings is the schema before limited things were records.
const beforeThings = 30

// A slip says when it comes of fewer things, or of hands that stay away.
func TestSlipNamesThingsAndHandsThatAreMissed(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.hours()
	w.haveScrews(1000)
	hands, err := w.room.SecondHandsSave(t.Context(), second("2026-03-02", 480, 240, 1, 2, 3, 4, 5))
	require.NoError(t, err)
	clamps := w.thing("clamps")
	clamps.Count = 2
	clamps, err = w.room.ThingSave(t.Context(), clamps)
	require.NoError(t, err)
	for range 2 { // cut by 9, glued by 11, side by side
		w.build(4, func(n *workshop.BuildNew) { n.DueOn = ptr(day("2026-03-02")) })
	}
	p, err := w.room.PlanLay(t.Context(), "", workshop.PlanChange{})
	require.NoError(t, err)
	require.Zero(t, p.LateMinutes)
	_, err = w.room.PlanAccept(t.Context(), p.ID)
	require.NoError(t, err)
	slips, err := w.room.Slips(t.Context())
	require.NoError(t, err)
	require.Empty(t, slips)
	clamps.Count = 1
	_, err = w.room.ThingSave(t.Context(), clamps)
	require.NoError(t, err)
	slips, err = w.room.Slips(t.Context())
	require.NoError(t, err)
	require.Len(t, slips, 1, "one of them waits for the clamps")
	require.Contains(t, slips[0].Causes, "Of clamps there were 2 when the plan was laid, now 1.")
	_, err = w.room.SecondHandsEnd(t.Context(), hands.ID, day("2026-03-02"))
	require.NoError(t, err)
	slips, err = w.room.Slips(t.Context())
	require.NoError(t, err)
	require.NotEmpty(t, slips)
	require.Contains(t, strings.Join(slips[0].Causes, " "), "at the bench were taken out since the plan was laid")
}
