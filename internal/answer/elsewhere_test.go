package answer_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/answer"
	"kerfbook/internal/apiary"
	"kerfbook/internal/fault"
	"kerfbook/internal/handover"
	"kerfbook/internal/sales"
	"kerfbook/internal/workshop"
)

// moved gives the lines of the movement record, the newest first.
func (w *world) moved() []apiary.Movement {
	w.t.Helper()
	list, err := w.Apiary.MovementList(w.t.Context(), w.now.AddDate(-1, 0, 0), w.now.AddDate(0, 0, 1))
	require.NoError(w.t, err)
	return list
}

// farSite is a place of the workshop's own, away from it.
func (w *world) farSite() sales.Site {
	w.t.Helper()
	s, err := w.Sales.SitePut(w.t.Context(), sales.Site{Name: "Cane paddock", Address: "81 Cane Road", Town: "Lower Moor", Region: "QLD", Latitude: ptr(-26.9), Longitude: ptr(152.7)})
	require.NoError(w.t, err)
	return s
}

// Every door by which bees go from place to place writes one line, and one only.
func TestEveryMoveOfBeesIsWrittenOnce(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		move     func(w *world, far sales.Site, hive apiary.Colony, box workshop.Box) error
		from, to string
		permit   string
	}{
		"a box stands elsewhere": {func(w *world, far sales.Site, hive apiary.Colony, box workshop.Box) error {
			_, err := w.BoxElsewhere(w.t.Context(), box.ID, apiary.Move{SiteID: &far.ID, Place: "the cane paddock", PermitNumber: "HB 12"})
			return err
		}, "behind the shed", "the cane paddock, 81 Cane Road, Lower Moor", "HB 12"},
		"a colony stands elsewhere": {func(w *world, far sales.Site, hive apiary.Colony, box workshop.Box) error {
			_, err := w.ColonyElsewhere(w.t.Context(), apiary.Move{ColonyID: hive.ID, Place: "under the mango"})
			return err
		}, "behind the shed", "under the mango", ""},
		"housed in a box at another site": {func(w *world, far sales.Site, hive apiary.Colony, box workshop.Box) error {
			out := w.box(func(b *workshop.BoxNew) { b.SiteID, b.Place = &far.ID, "the cane paddock" })
			warnings, err := w.HouseColony(w.t.Context(), apiary.Housing{ColonyID: hive.ID, BoxID: &out.ID})
			require.NotEmpty(w.t, warnings)
			return err
		}, "behind the shed", "the cane paddock, 81 Cane Road, Lower Moor", ""},
		"a split taken to another site": {func(w *world, far sales.Site, hive apiary.Colony, box workshop.Box) error {
			out := w.box(func(b *workshop.BoxNew) { b.SiteID, b.Place = &far.ID, "the cane paddock" })
			child, _, err := w.SplitColony(w.t.Context(), answer.SplitMade{Splitting: apiary.Splitting{ParentID: hive.ID, BoxID: out.ID}})
			require.Equal(w.t, far.ID, *child.SiteID)
			return err
		}, "behind the shed", "the cane paddock, 81 Cane Road, Lower Moor", ""},
		"a run takes it to a site, done twice": {func(w *world, far sales.Site, hive apiary.Colony, box workshop.Box) error {
			run, err := w.Handover.RunMake(w.t.Context(), handover.Run{RunOn: day("2026-03-02"), Stops: []handover.Stop{{ColonyID: &hive.ID, SiteID: &far.ID}}})
			require.NoError(w.t, err)
			permit, err := w.Apiary.PermitPut(w.t.Context(), apiary.Permit{Number: "MP 7", Authority: "the State", Kind: "move"})
			require.NoError(w.t, err)
			_, err = w.db.Exec(w.t.Context(), `UPDATE run_stop SET permit_id = $1`, permit.ID)
			require.NoError(w.t, err)
			require.NoError(w.t, w.StopMark(w.t.Context(), last(run.Stops).ID, "done", w.now))
			return w.StopMark(w.t.Context(), last(run.Stops).ID, "done", w.now)
		}, "behind the shed", "81 Cane Road, Lower Moor, QLD", "MP 7"},
		"a run fetches it": {func(w *world, far sales.Site, hive apiary.Colony, box workshop.Box) error {
			run, err := w.Handover.RunMake(w.t.Context(), handover.Run{RunOn: day("2026-03-02"), Kind: "collection", Stops: []handover.Stop{{ColonyID: &hive.ID, SiteID: &far.ID}}})
			require.NoError(w.t, err)
			return w.StopMark(w.t.Context(), last(run.Stops).ID, "done", w.now)
		}, "behind the shed", "the workshop", ""},
		"a settled box is brought home from a tree": {func(w *world, far sales.Site, hive apiary.Colony, box workshop.Box) error {
			permit, err := w.Apiary.PermitPut(w.t.Context(), apiary.Permit{Number: "TP 3", Authority: "the State", Kind: "take"})
			require.NoError(w.t, err)
			at := w.box()
			tree, err := w.TreePut(w.t.Context(), apiary.HostTree{Name: "Leaning ironbark", SiteID: &far.ID, Permission: "owner, by letter", BeeSpeciesID: &w.bees.ID, BoxID: &at.ID, FixedOn: ptr(day("2026-01-05")), BoxLeaves: true, PermitID: &permit.ID})
			require.NoError(w.t, err)
			_, err = w.Apiary.HostTreeSettle(w.t.Context(), apiary.TreeSettling{TreeID: tree.ID, Version: tree.Version, On: day("2026-03-01")})
			require.NoError(w.t, err)
			require.Empty(w.t, w.moved(), "settled where it is")
			tree, err = w.Apiary.HostTreeGet(w.t.Context(), tree.ID)
			require.NoError(w.t, err)
			_, err = w.TreeBoxAway(w.t.Context(), apiary.BoxAway{TreeID: tree.ID, Version: tree.Version, Place: "behind the shed"})
			return err
		}, "Leaning ironbark, 81 Cane Road, Lower Moor", "behind the shed", "TP 3"},
		"handed over on a run": {func(w *world, far sales.Site, hive apiary.Colony, box workshop.Box) error {
			w.listPrices()
			got, err := w.OrderMake(w.t.Context(), answer.NewOrder{NewOrder: sales.NewOrder{PartyID: w.buyer.ID, SiteID: &w.site.ID},
				Wishes: []sales.Wish{{ModelID: w.model.ID, WithColony: true, BeeSpeciesID: w.bees.ID, Deliver: true}}})
			require.NoError(w.t, err)
			u := got.Order.Lines[0].Units[0]
			run, err := w.RunMake(w.t.Context(), answer.NewRun{On: day("2026-03-02"), UnitIDs: []int64{u.ID}})
			require.NoError(w.t, err)
			given, err := w.HandOver(w.t.Context(), answer.Giving{UnitID: u.ID, ReceivedBy: "Ottoline"})
			require.NoError(w.t, err)
			require.Equal(w.t, last(run.Stops).ID, *given.Handover.RunStopID)
			return w.StopMark(w.t.Context(), last(run.Stops).ID, "done", w.now)
		}, "behind the shed", "Ottoline Brandreth, 3 Ridge Road, Upper Moor, QLD", ""},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			w := newWorld(t)
			far := w.farSite()
			box := w.box()
			hive := w.colony(func(n *apiary.NewColony) { n.Dwelling, n.BoxID, n.HousedAt = "box", &box.ID, w.now.AddDate(0, -1, 0) })
			require.Empty(t, w.moved(), "a colony that is put down has not moved")
			require.NoError(t, c.move(w, far, hive, box))
			list := w.moved()
			require.Len(t, list, 1)
			require.Equal(t, []string{c.from, c.to, c.permit}, []string{list[0].FromPlace, list[0].ToPlace, list[0].PermitNumber})
			require.Equal(t, 1, w.count(`SELECT count(*)::int FROM movement`))
			// Source: the record itself. A colony's places follow one another as its moves do.
			require.Equal(t, w.count(`SELECT count(*)::int - count(DISTINCT colony_id)::int FROM colony_place`), len(list))
		})
	}
}

func TestWhatDoesNotMoveBeesWritesNoMove(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	empty, box := w.box(), w.box()
	hive := w.colony(func(n *apiary.NewColony) { n.Dwelling, n.BoxID, n.HousedAt = "box", &box.ID, w.now.AddDate(0, -1, 0) })
	_, err := w.BoxElsewhere(t.Context(), empty.ID, apiary.Move{Place: "the loft"})
	require.NoError(t, err)
	_, err = w.ColonyElsewhere(t.Context(), apiary.Move{ColonyID: hive.ID, Place: "Behind the shed"})
	require.NoError(t, err, "there already")
	_, err = w.HouseColony(t.Context(), apiary.Housing{ColonyID: hive.ID, BoxID: &empty.ID})
	require.NoError(t, err)
	got, err := w.Workshop.BoxGet(t.Context(), empty.ID)
	require.NoError(t, err)
	require.Equal(t, "behind the shed", got.Place, "the box came to the bees")
	_, _, err = w.SplitColony(t.Context(), answer.SplitMade{Splitting: apiary.Splitting{ParentID: hive.ID, BoxID: box.ID}})
	require.NoError(t, err)
	require.NoError(t, w.Apiary.Give(t.Context(), apiary.Move{ColonyID: hive.ID, ChangesOwner: true, OwnerID: &w.buyer.ID}))
	require.Empty(t, w.moved())

	_, err = w.ColonyElsewhere(t.Context(), apiary.Move{ColonyID: hive.ID})
	require.True(t, fault.Is(err, fault.Invalid), "to nowhere")
	_, err = w.ColonyElsewhere(t.Context(), apiary.Move{ColonyID: hive.ID, Place: "the moon", At: w.now.AddDate(0, 0, 2)})
	require.True(t, fault.Is(err, fault.Invalid), "the day after tomorrow")
	_, err = w.ColonyElsewhere(t.Context(), apiary.Move{ColonyID: hive.ID, Place: "the loft"})
	require.NoError(t, err)
	err = w.Apiary.Give(t.Context(), apiary.Move{ColonyID: hive.ID, Place: "the cellar", At: w.now.AddDate(0, 0, -3)})
	require.True(t, fault.Is(err, fault.Invalid), "before its last move")
	require.Len(t, w.moved(), 1)
}

func TestPermitIsAddedToAMoveOnce(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	hive := w.colony()
	_, err := w.ColonyElsewhere(t.Context(), apiary.Move{ColonyID: hive.ID, Place: "the loft"})
	require.NoError(t, err)
	m := w.moved()[0]
	require.True(t, fault.Is(w.Apiary.MovementPermit(t.Context(), m.ID, " "), fault.Invalid))
	require.True(t, fault.Is(w.Apiary.MovementPermit(t.Context(), m.ID+1, "HB 1"), fault.NotFound))
	require.NoError(t, w.Apiary.MovementPermit(t.Context(), m.ID, "HB 1"))
	require.Equal(t, "HB 1", w.moved()[0].PermitNumber)
	require.True(t, fault.Is(w.Apiary.MovementPermit(t.Context(), m.ID, "HB 2"), fault.Conflict))
	_, err = w.db.Exec(t.Context(), `UPDATE movement SET to_place = 'x', permit_number = 'y'`)
	require.Error(t, err)
}

func TestMovementRecordOfSomeDays(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	one, two := w.colony(), w.colony()
	for _, id := range []int64{one.ID, two.ID} {
		_, err := w.ColonyElsewhere(t.Context(), apiary.Move{ColonyID: id, Place: "the loft", At: w.now.Add(-9 * time.Hour)}) // 22:30 on 1 March in Brisbane
		require.NoError(t, err)
	}
	_, err := w.ColonyElsewhere(t.Context(), apiary.Move{ColonyID: one.ID, Place: "the far paddock", Note: "to the flowers"})
	require.NoError(t, err)
	record, err := w.Movements(t.Context(), day("2026-03-01"), day("2026-03-02"))
	require.NoError(t, err)
	require.Equal(t, "3 colonies in 2 moves", record.Total())
	require.Equal(t, []string{one.Number, two.Number}, record.Moves[0].Colonies, "they went together")
	require.Equal(t, []string{"Tetragonula carbonaria"}, record.Moves[0].Kinds)
	record, err = w.Movements(t.Context(), day("2026-03-02"), day("2026-03-02"))
	require.NoError(t, err)
	require.Equal(t, "1 colony in 1 move", record.Total(), "days are the workshop's")
	for name, c := range map[string]struct{ from, to, pointer string }{
		"reversed": {"2026-03-02", "2026-03-01", "/to"}, "a hundred years": {"1926-03-02", "2026-03-01", "/from"}, "ten years and a day": {"2016-03-01", "2026-03-01", "/from"},
	} {
		_, err := w.Movements(t.Context(), day(c.from), day(c.to))
		require.True(t, fault.Is(err, fault.Invalid), name)
		var f *fault.Error
		require.ErrorAs(t, err, &f)
		require.Equal(t, c.pointer, f.Fields[0].Pointer, name)
		_, err = w.MovementRecord(t.Context(), day(c.from), day(c.to))
		require.True(t, fault.Is(err, fault.Invalid), name)
	}
	_, err = w.Movements(t.Context(), day("2016-03-02"), day("2026-03-01"))
	require.NoError(t, err, "ten years, both days with it")
	pdf, err := w.Paper(t.Context(), "movements", "2026-03-01..2026-03-31")
	require.NoError(t, err)
	require.True(t, strings.HasPrefix(string(pdf), "%PDF"))
	for _, bad := range []string{"", "2026-03-01", "2026-03-01..", "x..y", "2026-02-30..2026-03-01"} {
		_, err := w.Paper(t.Context(), "movements", bad)
		require.True(t, fault.Is(err, fault.Invalid), bad)
	}
}

// Source: Income Tax Assessment Act 1997 (Cth) s 4-10, 1 July to 30 June; Tax
// Administration Act 1994 (NZ), 1 April to 31 March. Both from memory.
func TestSpansAreQuartersAndFinancialYears(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		country, day string
		want         []string
	}{
		{"AU", "2026-11-25", []string{"This quarter 2026-10-01..2026-12-31", "Last quarter 2026-07-01..2026-09-30", "Financial year 2026-27 2026-07-01..2027-06-30", "Financial year 2025-26 2025-07-01..2026-06-30"}},
		{"AU", "2026-06-30", []string{"This quarter 2026-04-01..2026-06-30", "Last quarter 2026-01-01..2026-03-31", "Financial year 2025-26 2025-07-01..2026-06-30", "Financial year 2024-25 2024-07-01..2025-06-30"}},
		{"NZ", "2026-03-31", []string{"This quarter 2026-01-01..2026-03-31", "Last quarter 2025-10-01..2025-12-31", "Financial year 2025-26 2025-04-01..2026-03-31", "Financial year 2024-25 2024-04-01..2025-03-31"}},
		{"MX", "2026-01-01", []string{"This quarter 2026-01-01..2026-03-31", "Last quarter 2025-10-01..2025-12-31", "Year 2026 2026-01-01..2026-12-31", "Year 2025 2025-01-01..2025-12-31"}},
	} {
		var got []string
		for _, s := range answer.Spans(c.country, day(c.day)) {
			got = append(got, s.Name+" "+answer.SpanText(s.From, s.To))
		}
		require.Equal(t, c.want, got, c.country+" "+c.day)
	}
}
