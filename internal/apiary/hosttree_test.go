package apiary

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/fault"
)

func (w *world) tree(t *testing.T, change func(*HostTree)) HostTree {
	t.Helper()
	h := HostTree{Name: "Leaning ironbark", Place: "second gate", Permission: "Edda Holm", BeeSpeciesID: &w.species.ID, BoxLeaves: true}
	if change != nil {
		change(&h)
	}
	h, err := w.HostTreePut(t.Context(), h)
	require.NoError(t, err)
	return w.treeNow(t, h.ID)
}

func (w *world) treeNow(t *testing.T, id int64) HostTree {
	t.Helper()
	h, err := w.HostTreeGet(t.Context(), id)
	require.NoError(t, err)
	return h
}

// The kind's figures are 28 days in the months from September to March and 56 in the
// others (the book's own estimates); the days are counted by hand.
func TestNextVisitIsTypedOrReckoned(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	for i, c := range []struct {
		name   string
		change func(*HostTree)
		visit  *Visit
		due    string // "" for none
	}{
		{"warm, from the day it was fixed", func(h *HostTree) { h.FixedOn = day("2026-10-01") }, nil, "2026-10-29"},
		{"cold, from the day it was fixed", func(h *HostTree) { h.FixedOn = day("2026-06-10") }, nil, "2026-08-05"},
		{"from the last visit", func(h *HostTree) { h.FixedOn = day("2026-06-10") }, &Visit{HappenedAt: time.Date(2026, 10, 3, 1, 0, 0, 0, time.UTC), Found: "wax"}, "2026-10-31"},
		{"a visit late in the evening is one of that day", func(h *HostTree) { h.FixedOn = day("2026-06-10") }, &Visit{HappenedAt: time.Date(2026, 10, 3, 13, 30, 0, 0, time.UTC), Found: "wax"}, "2026-10-31"}, // 23:30 in Brisbane
		{"its own interval", func(h *HostTree) { h.FixedOn, h.VisitEveryDays = day("2026-10-01"), ptr(10) }, nil, "2026-10-11"},
		{"typed", func(h *HostTree) { h.NextVisitOn = day("2026-12-24") }, nil, "2026-12-24"},
		{"typed at the visit", nil, &Visit{HappenedAt: noon.AddDate(0, 0, -1), Found: "brood", NextVisitOn: day("2026-11-09")}, "2026-11-09"},
		{"kind not known", func(h *HostTree) { h.BeeSpeciesID, h.FixedOn = nil, day("2026-10-01") }, nil, "2026-11-12"}, // 42 days, our choice
	} {
		t.Run(c.name, func(t *testing.T) {
			box := w.box(t, "1001"+string(rune('0'+i)), nil)
			h := w.tree(t, func(h *HostTree) {
				h.BoxID = &box
				if c.change != nil {
					c.change(h)
				}
			})
			if c.visit != nil {
				c.visit.TreeID = h.ID
				require.NoError(t, w.HostTreeVisit(t.Context(), *c.visit))
			}
			require.Equal(t, day(c.due), w.treeNow(t, h.ID).DueOn)
		})
	}
	require.Nil(t, w.tree(t, nil).DueOn, "without a box nothing is due")
	list, err := w.HostTreeList(t.Context(), TreeFilter{DueBy: day("2026-10-29")})
	require.NoError(t, err)
	require.Len(t, list, 3, "5 August, 11 October, 29 October")
	require.Equal(t, *day("2026-08-05"), *list[0].DueOn)
	list, err = w.HostTreeList(t.Context(), TreeFilter{Find: "10013"})
	require.NoError(t, err)
	require.Len(t, list, 1)
	list, err = w.HostTreeList(t.Context(), TreeFilter{Find: "IRON"})
	require.NoError(t, err)
	require.Len(t, list, 9)
	list, err = w.HostTreeList(t.Context(), TreeFilter{Find: "%"})
	require.NoError(t, err)
	require.Empty(t, list)
}

func TestALateNoteOfAVisitLeavesTheNextAlone(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	ctx := t.Context()
	box := w.box(t, "10016", nil)
	h := w.tree(t, func(h *HostTree) { h.BoxID = &box })
	require.NoError(t, w.HostTreeVisit(ctx, Visit{TreeID: h.ID, HappenedAt: noon.AddDate(0, 0, -2), Found: "passing", NextVisitOn: day("2026-11-20")}))
	require.NoError(t, w.HostTreeVisit(ctx, Visit{TreeID: h.ID, HappenedAt: noon.AddDate(0, 0, -9), Seen: "fixed the tube", NextVisitOn: day("2026-11-01")}))
	h = w.treeNow(t, h.ID)
	require.Equal(t, day("2026-11-20"), h.DueOn)
	require.Equal(t, "passing", h.LastFound)
	require.Equal(t, "Is there wax or resin in the box yet?", h.LookFor())
	for pointer, v := range map[string]Visit{"/seen": {}, "/found": {Found: "gold"}, "/happened_at": {Found: "wax", HappenedAt: noon.Add(2 * time.Hour)}, "/next_visit_on": {Found: "wax", NextVisitOn: day("2026-10-30")}} {
		v.TreeID = h.ID
		err := w.HostTreeVisit(ctx, v)
		require.Equal(t, []string{pointer}, pointersOf(t, err))
	}
	require.True(t, fault.Is(w.HostTreeVisit(ctx, Visit{TreeID: 999, Found: "wax"}), fault.NotFound))
}

func TestHostTreeIsChecked(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	ctx := t.Context()
	box := w.box(t, "10016", nil)
	_, err := w.HostTreePut(ctx, HostTree{Name: " ", Latitude: ptr(91.0), Longitude: ptr(-181.0), PermissionOn: day("2026-02-01"), PermissionUntil: day("2026-01-01"), VisitEveryDays: ptr(0), FixedOn: day("2026-01-01")})
	require.ElementsMatch(t, []string{"/name", "/latitude", "/longitude", "/permission_until", "/visit_every_days", "/fixed_on"}, pointersOf(t, err))
	_, err = w.HostTreePut(ctx, HostTree{Name: "gum", Latitude: ptr(-26.0)})
	require.Equal(t, []string{"/latitude"}, pointersOf(t, err))
	_, err = w.HostTreePut(ctx, HostTree{Name: "gum", BoxID: &box})
	require.Equal(t, []string{"/permission"}, pointersOf(t, err))
	_, err = w.HostTreePut(ctx, HostTree{Name: "gum", Permission: "x", BoxID: ptr(int64(999))})
	require.Equal(t, []string{"/box_id"}, pointersOf(t, err))
	_, err = w.HostTreePut(ctx, HostTree{Name: "gum", Permission: "x", BoxID: &box, FixedOn: day("2026-11-03")})
	require.Equal(t, []string{"/fixed_on"}, pointersOf(t, err), "tomorrow")
	h := w.tree(t, func(h *HostTree) { h.BoxID = &box })
	require.Equal(t, day("2026-11-02"), h.FixedOn, "fixed today unless said")
	_, err = w.HostTreePut(ctx, HostTree{Name: "gum", Permission: "x", BoxID: &box})
	require.True(t, fault.Is(err, fault.Conflict), "%v", err)
	require.Contains(t, err.Error(), "fixed to Leaning ironbark")
	h.Version--
	_, err = w.HostTreePut(ctx, h)
	require.True(t, fault.Is(err, fault.Stale), "%v", err)
}

func TestASettledBoxBecomesAColonyOfRecordAndLeaves(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	ctx := t.Context()
	p := w.permit(t, nil)
	box := w.box(t, "10016", nil)
	h := w.tree(t, func(h *HostTree) {
		h.BoxID, h.FixedOn, h.PermissionOn, h.PermissionUntil, h.PermitID = &box, day("2026-02-01"), day("2026-01-20"), day("2027-01-20"), &p.ID
	})
	_, err := w.HostTreeSettle(ctx, TreeSettling{TreeID: h.ID, Version: h.Version, On: *day("2026-01-31")})
	require.Equal(t, []string{"/on"}, pointersOf(t, err))
	_, err = w.HostTreeSettle(ctx, TreeSettling{TreeID: h.ID, Version: h.Version, On: *day("2026-11-03")})
	require.Equal(t, []string{"/on"}, pointersOf(t, err))
	_, err = w.HostTreeSettle(ctx, TreeSettling{TreeID: h.ID, Version: h.Version + 1})
	require.True(t, fault.Is(err, fault.Stale))
	c, err := w.HostTreeSettle(ctx, TreeSettling{TreeID: h.ID, Version: h.Version, On: *day("2026-10-30"), Sure: true})
	require.NoError(t, err)
	require.Equal(t, "Drawn from Leaning ironbark, second gate; allowed by Edda Holm on 20 January 2026 until 20 January 2027; permit WA 17 of Parks office.", c.Origin)
	require.True(t, c.Ready(*day("2026-11-02")))
	require.Equal(t, box, *c.BoxID)
	got, named, err := w.PermitOfColony(ctx, c.ID)
	require.NoError(t, err)
	require.True(t, named)
	require.Equal(t, p.ID, got.ID)
	of, drawn, err := w.TreeOfColony(ctx, c.ID)
	require.NoError(t, err)
	require.True(t, drawn)
	require.Equal(t, h.ID, of.ID)
	h = w.treeNow(t, h.ID)
	require.Equal(t, "settled, the box is to leave", h.State())
	require.Equal(t, "Fetch the box", h.Asks())
	require.Equal(t, day("2026-10-30"), h.DueOn)
	_, err = w.HostTreeSettle(ctx, TreeSettling{TreeID: h.ID, Version: h.Version})
	require.True(t, fault.Is(err, fault.Conflict), "once: %v", err)
	other := w.box(t, "10024", nil)
	changed := h
	changed.BoxID = &other
	_, err = w.HostTreePut(ctx, changed)
	require.Equal(t, []string{"/box_id"}, pointersOf(t, err), "the colony lives in the box that is there")
	require.True(t, fault.Is(w.HostTreePutAway(ctx, h.ID, h.Version, "felled"), fault.Conflict))

	_, err = w.HostTreeBoxAway(ctx, BoxAway{TreeID: h.ID, Version: h.Version, Place: " "})
	require.Equal(t, []string{"/place"}, pointersOf(t, err))
	went, err := w.HostTreeBoxAway(ctx, BoxAway{TreeID: h.ID, Version: h.Version, Place: "home yard"})
	require.NoError(t, err)
	require.Equal(t, c.ID, went)
	moves, err := w.MovementList(ctx, noon.AddDate(0, 0, -1), noon.AddDate(0, 0, 1))
	require.NoError(t, err)
	require.Equal(t, "Leaning ironbark", moves[0].FromPlace)
	require.Equal(t, "home yard", moves[0].ToPlace)
	h = w.treeNow(t, h.ID)
	require.Nil(t, h.BoxID)
	require.Nil(t, h.ColonyID)
	require.Nil(t, h.DueOn)
	drawnList, err := w.DrawnFrom(ctx, h.ID)
	require.NoError(t, err)
	require.Equal(t, c.Number, drawnList[0].Number)
	visits, err := w.HostTreeVisits(ctx, h.ID)
	require.NoError(t, err)
	require.Contains(t, visits[0].Seen, "taken away with colony "+c.Number)
	h.BoxID, h.FixedOn = &other, nil
	h, err = w.HostTreePut(ctx, h)
	require.NoError(t, err, "the tree takes another box")
	went, err = w.HostTreeBoxAway(ctx, BoxAway{TreeID: h.ID, Version: h.Version, Place: "the shed"})
	require.NoError(t, err)
	require.Zero(t, went, "given up: no bees went")
	h = w.treeNow(t, h.ID)
	require.NoError(t, w.HostTreePutAway(ctx, h.ID, h.Version, "felled"))
	list, err := w.HostTreeList(ctx, TreeFilter{PutAway: true})
	require.NoError(t, err)
	require.Equal(t, "felled", list[0].PutAwayBecause)
}

// A box that stays keeps its bees at the tree: the colony is held back, so that nobody is
// promised it, and is freed when the box goes after all.
func TestABoxThatStaysIsHeldBack(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	ctx := t.Context()
	box := w.box(t, "10016", nil)
	h := w.tree(t, func(h *HostTree) { h.BoxID, h.BeeSpeciesID = &box, nil })
	_, err := w.HostTreeSettle(ctx, TreeSettling{TreeID: h.ID, Version: h.Version, BoxLeaves: ptr(false)})
	require.Equal(t, []string{"/species_id"}, pointersOf(t, err))
	c, err := w.HostTreeSettle(ctx, TreeSettling{TreeID: h.ID, Version: h.Version, BoxLeaves: ptr(false), SpeciesID: w.species.ID})
	require.NoError(t, err)
	require.Equal(t, "held back: stays at Leaning ironbark", c.State(noon))
	h = w.treeNow(t, h.ID)
	require.Equal(t, "settled, the box stays", h.State())
	require.Nil(t, h.DueOn)
	_, err = w.HostTreeBoxAway(ctx, BoxAway{TreeID: h.ID, Version: h.Version, Place: "home yard"})
	require.NoError(t, err)
	c, err = w.ColonyGet(ctx, c.ID)
	require.NoError(t, err)
	require.Equal(t, "ready", c.State(noon))
}

func TestPapersOfATreeAreMinded(t *testing.T) {
	t.Parallel()
	on := *day("2026-11-02")
	require.Equal(t, []string{"Nobody is noted who allowed it. Ask the owner of the land first."}, HostTree{}.Mind(on))
	require.Empty(t, HostTree{Permission: "x", PermissionUntil: day("2026-12-03")}.Mind(on), "31 days ahead")
	require.Equal(t, []string{"The owner's word holds until 2 December 2026."}, HostTree{Permission: "x", PermissionUntil: day("2026-12-02")}.Mind(on))
	require.Equal(t, []string{"The owner's word held until 1 November 2026. Ask again before you go.", "Permit 7 of Parks ended on 1 November 2026."},
		HostTree{Permission: "x", PermissionUntil: day("2026-11-01"), PermitID: ptr(int64(1)), PermitNumber: "7", PermitOf: "Parks", PermitEnds: day("2026-11-01"), PermitWarn: 30}.Mind(on))
	require.Equal(t, []string{"Permit 7 of Parks ends on 2 November 2026."}, HostTree{Permission: "x", PermitID: ptr(int64(1)), PermitNumber: "7", PermitOf: "Parks", PermitEnds: &on}.Mind(on))
}
