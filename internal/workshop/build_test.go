package workshop_test

import (
	"context"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/timber"
	"kerfbook/internal/workshop"
)

func TestBuildFreezesPartsAndClaims(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	lot := w.lot(2000, 5)
	w.haveScrews(20)
	// Two boxes with one more honey section each: 8 sides of 300 and 16 of 200, 5.6 m.
	b := w.build(2, func(n *workshop.BuildNew) {
		n.OptionIDs, n.Units, n.DueOn = []int64{w.honey.ID}, []int64{w.unit}, ptr(day("2026-03-20"))
	})
	require.Equal(t, "B0001", b.Number)
	require.Equal(t, "2 Plain box, hoop pine", b.Title())
	require.Equal(t, []any{8, "300", 16, "200"}, []any{b.Parts[0].Count, b.Parts[0].LengthMM.String(), b.Parts[1].Count, b.Parts[1].LengthMM.String()})
	require.Equal(t, 40, b.Fittings[0].Count, "2 x (16 + 4)")
	require.Equal(t, 20.0+2*10+2*30, b.StandardMin, "set-up once, the rest for each")
	require.Equal(t, []*int64{&w.unit, nil}, []*int64{b.Outputs[0].UnitID, b.Outputs[1].UnitID})
	require.Len(t, b.Plans, 1)
	require.Equal(t, 3, b.Plans[0].Answered.BoardsUsed, "5.6 m of 2 m boards, no kerf")
	require.True(t, b.Plans[0].Answered.Proved)
	require.Equal(t, "3 boards; no plan needs fewer.", b.Plans[0].Note())
	require.Equal(t, []string{"20 screw 50 mm short"}, b.Short)

	got := map[claims.Thing]claims.Claim{}
	for _, c := range b.Claims {
		got[c.Thing] = c
	}
	require.Equal(t, []any{3, claims.Meant}, []any{got[claims.Lot(lot.ID)].Quantity, got[claims.Lot(lot.ID)].Strength})
	require.Equal(t, []any{20, claims.PutAside}, []any{got[claims.Item(w.screws.ID)].Quantity, got[claims.Item(w.screws.ID)].Strength})

	w.haveScrews(50)
	b, err := w.room.BuildClaimFittings(t.Context(), b.ID)
	require.NoError(t, err)
	require.Empty(t, b.Short)
	item, err := w.timber.ItemGet(t.Context(), w.screws.ID)
	require.NoError(t, err)
	require.Equal(t, 40, item.PutAside)

	b, err = w.room.CuttingAccept(t.Context(), b.ID)
	require.NoError(t, err)
	require.NotNil(t, b.Plans[0].AcceptedAt)
	lot, err = w.timber.LotGet(t.Context(), lot.ID)
	require.NoError(t, err)
	require.Equal(t, []int{3, 0}, []int{lot.PutAside, lot.Meant})
	_, err = w.room.CuttingAccept(t.Context(), b.ID)
	require.True(t, fault.Is(err, fault.Conflict))

	// A later build sees two boards only, and says plainly what is short.
	c := w.build(2)
	require.Equal(t, 2, c.Plans[0].Answered.BoardsUsed)
	// 8 x 300 + 8 x 200 = 4.0 m fit two boards of 2 m exactly.
	require.Empty(t, c.Plans[0].Answered.Unplaced)
	e := w.build(3)
	require.Equal(t, []string{"6.0 m of 100 x 28 hoop pine short", "48 screw 50 mm short"}, e.Short, "3 x 2.0 m; of 70 screws the builds before have 40 and 30")
}

func TestCuttingIsLaidAnewFromWhatIsThere(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	b := w.build(1) // 4 x 300 + 4 x 200 = 2.0 m, nothing on the rack
	require.Equal(t, "2.0 m of 100 x 28 hoop pine short", b.Short[0])
	_, err := w.room.CuttingAccept(t.Context(), b.ID)
	require.True(t, fault.Is(err, fault.Conflict), "%v", err)
	short := w.lot(250, 20)
	b, err = w.room.CuttingLay(t.Context(), b.ID)
	require.NoError(t, err)
	require.Equal(t, "1.2 m of 100 x 28 hoop pine short", b.Short[0], "250 mm is too short for the sides of 300 mm")
	require.Equal(t, 4, b.Plans[0].Answered.BoardsUsed)
	w.lot(300, 1)
	b, err = w.room.CuttingLay(t.Context(), b.ID)
	require.NoError(t, err)
	require.Equal(t, "0.9 m of 100 x 28 hoop pine short", b.Short[0], "a board as long as the part is long enough")
	long := w.lot(2000, 1)
	b, err = w.room.CuttingLay(t.Context(), b.ID)
	require.NoError(t, err)
	require.Len(t, b.Plans, 1, "the plans before are replaced")
	for _, c := range b.Claims {
		if c.Thing.Kind == claims.LotKind {
			require.Contains(t, []int64{short.ID, long.ID}, c.Thing.ID)
		}
	}
	require.NotContains(t, b.Short, "short of hoop pine")
	l, err := w.timber.LotGet(t.Context(), long.ID)
	require.NoError(t, err)
	require.Equal(t, 1, l.Meant)
}

// What the rack does not have is meant from packs that are drying, the soonest first, and
// the plan of the bench waits for it.
func TestMissingTimberIsMeantFromPacks(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	stack := func(count, length int, p80 string) timber.Pack {
		p, err := w.timber.PackStack(t.Context(), timber.PackNew{SpeciesID: w.species.ID, WidthMM: d("106"), ThicknessMM: d("31"), StackedOn: day("2026-01-01"),
			DressesTo: &timber.Size{WidthMM: d("100"), ThicknessMM: d("28")}, Content: []timber.Content{{LengthMM: length, Grade: "sound", Count: count}}})
		require.NoError(t, err)
		p, err = w.timber.PackDatesSet(t.Context(), p.ID, p.Version, timber.DryDates{ReadyOn: ptr(day("2026-03-05")), ReadyOnP80: ptr(day(p80))})
		require.NoError(t, err)
		return p
	}
	later, sooner, short := stack(40, 2000, "2026-06-01"), stack(1, 2000, "2026-04-01"), stack(50, 250, "2026-03-10")
	b := w.build(2) // 8 x 300 + 8 x 200 = 4.0 m, with 15 % 4.6 m
	meant := func(b workshop.Build) map[int64]int {
		got := map[int64]int{}
		for _, c := range b.Claims {
			if c.Thing.Kind == claims.PackKind {
				require.Equal(t, claims.Meant, c.Strength)
				got[c.Thing.ID] = c.Quantity
			}
		}
		return got
	}
	require.Equal(t, map[int64]int{sooner.ID: 1, later.ID: 2}, meant(b), "2 m from the sooner pack, 2.6 m from the later; boards of 250 mm are too short")
	require.NotContains(t, meant(b), short.ID)
	require.Equal(t, "4.0 m of 100 x 28 hoop pine short", b.Short[0], "on the rack it is short all the same")
	w.hours()
	p, err := w.room.PlanLay(t.Context(), "", workshop.PlanChange{})
	require.NoError(t, err)
	require.Equal(t, brisbane("2026-06-01", 8, 0), p.Steps[0].StartsAt, "when the later pack is rather surely dry")
	w.lot(2000, 2)
	b, err = w.room.CuttingLay(t.Context(), b.ID)
	require.NoError(t, err)
	require.Empty(t, meant(b), "the rack has it now")
}

// Three cutting plans are laid at once and want the same boards: all are laid, and each
// board is meant once.
func TestCuttingLaidAtOnceSharesTheRack(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	builds := make([]workshop.Build, 3)
	for i := range builds {
		builds[i] = w.build(4) // one box takes one board, and there is none yet
	}
	lot := w.lot(2000, 6)
	for range 5 {
		var wg sync.WaitGroup
		errs := make([]error, len(builds))
		for i, b := range builds {
			wg.Go(func() { builds[i], errs[i] = w.room.CuttingLay(t.Context(), b.ID) })
		}
		wg.Wait()
		boards := 0
		for i, b := range builds {
			require.NoError(t, errs[i])
			boards += b.Plans[0].Answered.BoardsUsed
		}
		require.Equal(t, 6, boards)
		l, err := w.timber.LotGet(t.Context(), lot.ID)
		require.NoError(t, err)
		require.Equal(t, 6, l.Meant)
		require.NoError(t, w.tx(func(ctx context.Context, tx pgx.Tx) error {
			for _, b := range builds {
				if _, err := claims.EndFor(ctx, tx, w.now, claims.Build(b.ID), claims.Relaid, ""); err != nil {
					return err
				}
			}
			return nil
		}))
	}
}

func TestBuildRefuses(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	good := workshop.BuildNew{RevisionID: w.rev.ID, Quantity: 2, SpeciesID: w.species.ID}
	tests := []struct {
		name, pointer string
		change        func(*workshop.BuildNew)
	}{
		{"none", "/quantity", func(n *workshop.BuildNew) { n.Quantity = 0 }},
		{"an absurd count", "/quantity", func(n *workshop.BuildNew) { n.Quantity = 100_000 }},
		{"due in the past", "/due_on", func(n *workshop.BuildNew) { n.DueOn = ptr(day("2026-03-01")) }},
		{"due before it may begin", "/not_before", func(n *workshop.BuildNew) { n.DueOn, n.NotBefore = ptr(day("2026-03-05")), ptr(day("2026-03-06")) }},
		{"a piece of whole boxes", "/piece", func(n *workshop.BuildNew) { n.Piece = "honey" }},
		{"an unknown section", "/piece", func(n *workshop.BuildNew) { n.Makes, n.Piece = "section", "attic" }},
		{"more units than pieces", "/units", func(n *workshop.BuildNew) { n.Quantity, n.Units = 1, []int64{w.unit, w.unit2} }},
		{"a unit twice", "/units/1", func(n *workshop.BuildNew) { n.Units = []int64{w.unit, w.unit} }},
		{"an unknown option", "/options/0", func(n *workshop.BuildNew) { n.OptionIDs = []int64{77_777} }},
		{"no timber", "/timber_species_id", func(n *workshop.BuildNew) { n.SpeciesID = 0 }},
	}
	for _, tc := range tests {
		t.Run(tc.name, func(t *testing.T) {
			n := good
			tc.change(&n)
			_, err := w.room.BuildMake(t.Context(), n)
			requireField(t, err, fault.Invalid, tc.pointer)
		})
	}
	require.Zero(t, w.id(`SELECT count(*) FROM build`))
	today := good
	today.DueOn = ptr(day("2026-03-02"))
	_, err := w.room.BuildMake(t.Context(), today)
	require.NoError(t, err, "the second of March is today in Brisbane, though not yet in UTC")
}

func TestBuildListCancelAndOutputs(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	lot := w.lot(2000, 9)
	never, late, soon := w.build(1), w.build(1, func(n *workshop.BuildNew) { n.DueOn = ptr(day("2026-05-01")) }), w.build(1, func(n *workshop.BuildNew) { n.DueOn = ptr(day("2026-03-10")) })
	var got []int64
	after := ""
	for {
		page, next, err := w.room.BuildList(t.Context(), workshop.BuildFilter{Limit: 2, After: after})
		require.NoError(t, err)
		for _, b := range page {
			got = append(got, b.ID)
		}
		if after = next; next == "" {
			break
		}
	}
	require.Equal(t, []int64{soon.ID, late.ID, never.ID}, got)

	require.NoError(t, w.room.OutputAssign(t.Context(), soon.ID, 1, &w.unit))
	require.NoError(t, w.room.OutputSpoil(t.Context(), late.ID, 1, w.now))
	require.True(t, fault.Is(w.room.OutputAssign(t.Context(), late.ID, 1, &w.unit2), fault.Conflict))
	free, err := workshop.OutputsFree(t.Context(), w.db, w.model.ID, w.species.ID, nil)
	require.NoError(t, err)
	require.Len(t, free, 1, "one has a unit, one is spoiled")
	require.Equal(t, never.ID, free[0].BuildID)
	free, err = workshop.OutputsFree(t.Context(), w.db, w.model.ID, 0, []int64{w.oiled.ID})
	require.NoError(t, err)
	require.Empty(t, free, "not with these options")

	_, err = w.room.BuildCancel(t.Context(), soon.ID, soon.Version, "")
	requireField(t, err, fault.Invalid, "/because")
	_, err = w.room.BuildCancel(t.Context(), soon.ID, soon.Version+9, "x")
	require.True(t, fault.Is(err, fault.Stale))
	gone, err := w.room.BuildCancel(t.Context(), soon.ID, soon.Version, "the buyer moved away")
	require.NoError(t, err)
	require.Empty(t, gone.Claims)
	l, err := w.timber.LotGet(t.Context(), lot.ID)
	require.NoError(t, err)
	require.Equal(t, 2, l.Meant, "its board is free again")
	_, err = w.room.BuildCancel(t.Context(), soon.ID, gone.Version, "again")
	require.True(t, fault.Is(err, fault.Conflict))
	done, _, err := w.room.BuildList(t.Context(), workshop.BuildFilter{Done: true, Find: "b0"})
	require.NoError(t, err)
	require.Len(t, done, 1)

	w.now = w.now.AddDate(0, 3, 0)
	_, err = w.room.BuildSave(t.Context(), workshop.BuildChange{ID: late.ID, Version: late.Version, DueOn: late.DueOn, Notes: "still waiting"})
	require.NoError(t, err, "a due date that has passed may stand")
	_, err = w.room.BuildSave(t.Context(), workshop.BuildChange{ID: never.ID, Version: never.Version, DueOn: ptr(day("2026-05-01"))})
	requireField(t, err, fault.Invalid, "/due_on")
}

func TestSpells(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	b := w.build(2)
	cut, glue := b.Operations[0].ID, b.Operations[1].ID
	at := func(minutes int) time.Time { return monday.Add(time.Duration(minutes) * time.Minute) }
	start := func(op, who int64, minutes int) error {
		w.now = at(minutes)
		_, err := w.room.SpellStart(t.Context(), op, who, w.now)
		return err
	}
	require.NoError(t, start(cut, w.owner, 0))
	require.NoError(t, start(glue, w.helper, 5))
	require.NoError(t, start(glue, w.owner, 30), "starting another stops the first")
	open, err := w.room.SpellOpen(t.Context(), w.owner)
	require.NoError(t, err)
	require.Equal(t, []any{glue, "glue", b.Number}, []any{open.OperationID, open.OperationName, open.BuildNumber})
	w.now = at(45)
	b, err = w.room.BuildGet(t.Context(), b.ID)
	require.NoError(t, err)
	require.Equal(t, []float64{30, 15 + 40}, []float64{b.Operations[0].SpentMin, b.Operations[1].SpentMin}, "what runs counts up to now")
	require.Equal(t, []string{"Jo", "Mara"}, b.Operations[1].Running)
	require.Equal(t, at(0), *b.StartedAt)
	_, err = w.room.SpellStop(t.Context(), w.owner, at(20))
	requireField(t, err, fault.Invalid, "/stopped_at")
	_, err = w.room.SpellStop(t.Context(), w.owner, at(45))
	require.NoError(t, err)
	_, err = w.room.SpellStop(t.Context(), w.owner, at(45))
	require.True(t, fault.Is(err, fault.Conflict))
	b, err = w.room.OperationDone(t.Context(), glue, true, at(45))
	require.NoError(t, err)
	require.Empty(t, b.Operations[1].Running, "done stops the clock")
	_, err = w.room.SpellAdd(t.Context(), cut, w.helper, at(-120), at(-60))
	require.NoError(t, err)
	_, err = w.room.SpellAdd(t.Context(), cut, w.helper, at(-60), at(-120))
	requireField(t, err, fault.Invalid, "/stopped_at")
	_, err = w.room.SpellStart(t.Context(), cut, w.owner, at(300))
	requireField(t, err, fault.Invalid, "/started_at")
	b, err = w.room.BuildGet(t.Context(), b.ID)
	require.NoError(t, err)
	require.Equal(t, 90.0, b.Operations[0].SpentMin)

	w.id(`UPDATE build_operation SET owner_only = true WHERE id = $1 RETURNING id`, cut)
	_, err = w.room.SpellStart(t.Context(), cut, w.helper, w.now)
	require.True(t, fault.Is(err, fault.Forbidden))
}
