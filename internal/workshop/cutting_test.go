package workshop_test

import (
	"context"
	"math"
	"math/rand/v2"
	"sync"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/hive"
	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/timber"
	"kerfbook/internal/workshop"
)

// graded puts boards of a grade and true thickness on the rack.
func (w *world) graded(lengthMM, count int, grade, trueMM, place string) timber.Lot {
	w.t.Helper()
	l, err := w.timber.LotIn(w.t.Context(), timber.LotKey{SpeciesID: w.species.ID, WidthMM: d("100"), ThicknessMM: d("28"), LengthMM: lengthMM, Grade: grade, ThicknessTrueMM: d(trueMM), Place: place},
		count, timber.Opening, w.now, "")
	require.NoError(w.t, err)
	return l
}

// model draws up another model from the small one.
func (w *world) drawn(code string, change func(*hive.Model)) workshop.Revision {
	w.t.Helper()
	m, err := w.room.ModelSave(w.t.Context(), workshop.Model{Code: code, Name: code})
	require.NoError(w.t, err)
	b := body()
	change(&b)
	rev, err := w.room.RevisionAdd(w.t.Context(), workshop.Drawing{ModelID: m.ID, Body: b})
	require.NoError(w.t, err)
	return rev
}

func (w *world) onRack(lot int64) int {
	w.t.Helper()
	l, err := w.timber.LotGet(w.t.Context(), lot)
	require.NoError(w.t, err)
	return l.OnHand
}

// Each of two builds alone leaves 1.0 m of a board of 2 m; together they take three boards
// in place of four: 2 x (8 sides of 300 + ... ) by hand below.
func TestCuttingTogetherSharesBoards(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	lot := w.lot(3000, 6)
	w.haveScrews(48)
	// One box takes 4 x 300 + 4 x 200 = 2.0 m: alone a board of 3 m each; three boxes of
	// three builds fit two boards exactly.
	var ids []int64
	for range 3 {
		ids = append(ids, w.build(1).ID)
	}
	c, err := w.room.CuttingTogether(t.Context(), ids)
	require.NoError(t, err)
	require.Equal(t, workshop.Totals{Boards: 2, LengthMM: 6000, CostMinor: 1800}, c.Totals)
	require.Equal(t, "2 boards; no plan needs fewer.", c.Plans[0].Note())
	require.Len(t, c.Builds, 3)
	l, err := w.timber.LotGet(t.Context(), lot.ID)
	require.NoError(t, err)
	require.Equal(t, 2, l.Meant)

	c, err = w.room.CuttingPutAside(t.Context(), c.ID)
	require.NoError(t, err)
	require.NotNil(t, c.AcceptedAt)
	_, err = w.room.CuttingPutAside(t.Context(), c.ID)
	require.True(t, fault.Is(err, fault.Conflict))
	owned := 0
	for _, b := range c.Builds {
		for _, one := range b.Claims {
			if one.Thing.Kind == claims.ItemKind {
				continue
			}
			require.Equal(t, []any{claims.Lot(lot.ID), claims.PutAside}, []any{one.Thing, one.Strength})
			owned += one.Quantity
		}
	}
	require.Equal(t, 2, owned, "of each build its share")

	// The first build is done: every board that has its parts is cut, and with it parts of
	// the others.
	b := c.Builds[0]
	_, err = w.room.BuildFinish(t.Context(), workshop.Finish{BuildID: b.ID, Version: b.Version, At: w.now})
	require.NoError(t, err)
	c, err = w.room.CuttingGet(t.Context(), c.ID)
	require.NoError(t, err)
	for _, b := range c.Builds {
		if !b.Open() {
			continue
		}
		done, err := w.room.BuildFinish(t.Context(), workshop.Finish{BuildID: b.ID, Version: b.Version, At: w.now})
		require.NoError(t, err)
		require.Empty(t, done.Notes)
		require.Equal(t, int64(600), *done.Boxes[0].CostMinor-16*10, "2 m of 3.00 a metre each, whoever owned the board; screws aside")
	}
	require.Equal(t, 4, w.onRack(lot.ID))
	c, err = w.room.CuttingGet(t.Context(), c.ID)
	require.NoError(t, err)
	require.NotNil(t, c.EndedAt)
	_, err = w.room.CuttingChoose(t.Context(), c.ID, workshop.Choices{})
	require.True(t, fault.Is(err, fault.Conflict))
}

func TestCuttingTogetherRefuses(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.lot(3000, 6)
	b := w.build(1)
	_, err := w.room.CuttingTogether(t.Context(), nil)
	requireField(t, err, fault.Invalid, "/builds")
	_, err = w.room.CuttingTogether(t.Context(), []int64{b.ID, b.ID})
	requireField(t, err, fault.Invalid, "/builds/1")
	_, err = w.room.CuttingTogether(t.Context(), []int64{b.ID, 99_999})
	require.True(t, fault.Is(err, fault.NotFound), "%v", err)
	c, err := w.room.CuttingTogether(t.Context(), []int64{b.ID})
	require.NoError(t, err)
	for pointer, ch := range map[string]workshop.Choices{
		"/pinned/0":          {Pinned: []int64{99_999}},
		"/left_out/0/lot_id": {LeftOut: []workshop.LotLeftOut{{LotID: 99_999}}},
		"/left_out/0/count":  {LeftOut: []workshop.LotLeftOut{{LotID: 1, Count: -1}}},
	} {
		_, err = w.room.CuttingChoose(t.Context(), c.ID, ch)
		requireField(t, err, fault.Invalid, pointer)
	}
	plan := c.Plans[0]
	_, err = w.room.CuttingDone(t.Context(), c.ID, plan.ID+1000, 0, 1, w.now)
	require.True(t, fault.Is(err, fault.Conflict))
	_, err = w.room.CuttingDone(t.Context(), c.ID, plan.ID, 77, 1, w.now)
	requireField(t, err, fault.Invalid, "/layout")
	_, err = w.room.CuttingDone(t.Context(), c.ID, plan.ID, 0, 77, w.now)
	requireField(t, err, fault.Invalid, "/times")
	_, err = w.room.CuttingFailed(t.Context(), c.ID, workshop.Failed{PlanID: plan.ID, Layout: -1, At: w.now})
	requireField(t, err, fault.Invalid, "/layout")
	_, err = w.room.CuttingFailed(t.Context(), c.ID, workshop.Failed{PlanID: plan.ID, UsableMM: ptr(3000), At: w.now})
	requireField(t, err, fault.Invalid, "/usable_mm")
	_, err = w.room.CuttingGet(t.Context(), 99_999)
	require.True(t, fault.Is(err, fault.NotFound))
	_, err = w.room.BuildCancel(t.Context(), b.ID, b.Version, "not wanted")
	require.NoError(t, err)
	_, err = w.room.CuttingTogether(t.Context(), []int64{b.ID})
	require.True(t, fault.Is(err, fault.Conflict))
}

// A build that goes leaves the others with a plan of their own.
func TestCuttingWithoutOneThatIsCancelled(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	lot := w.lot(3000, 6)
	a, b, e := w.build(1), w.build(1), w.build(1)
	c, err := w.room.CuttingTogether(t.Context(), []int64{a.ID, b.ID, e.ID})
	require.NoError(t, err)
	_, err = w.room.CuttingPutAside(t.Context(), c.ID)
	require.NoError(t, err)
	a, err = w.room.BuildGet(t.Context(), a.ID)
	require.NoError(t, err)
	_, err = w.room.BuildCancel(t.Context(), a.ID, a.Version, "not wanted")
	require.NoError(t, err)
	c, err = w.room.CuttingGet(t.Context(), c.ID)
	require.NoError(t, err)
	require.Len(t, c.Builds, 2)
	require.Equal(t, 2, c.Totals.Boards, "4 m of boards of 3 m")
	require.NotNil(t, c.AcceptedAt)
	l, err := w.timber.LotGet(t.Context(), lot.ID)
	require.NoError(t, err)
	require.Equal(t, []int{2, 0}, []int{l.PutAside, l.Meant}, "put aside as before")
	// One of them is cut alone again: both have a plan of one board.
	_, err = w.room.CuttingTogether(t.Context(), []int64{b.ID})
	require.NoError(t, err)
	for _, id := range []int64{b.ID, e.ID} {
		one, err := w.room.BuildGet(t.Context(), id)
		require.NoError(t, err)
		require.Equal(t, []int{1, 1}, []int{len(one.Plans), one.Plans[0].Answered.BoardsUsed})
	}
}

// The maker's own choice stands beside the best there is.
func TestCuttingChoices(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	short, long := w.lot(1200, 4), w.lot(2000, 4)
	b := w.build(2) // 4.0 m: two boards of 2 m
	require.Equal(t, map[int64]int{long.ID: 2}, lotsOf(b))
	c, err := w.room.CuttingChoose(t.Context(), b.CuttingID, workshop.Choices{Pinned: []int64{short.ID}})
	require.NoError(t, err)
	require.Equal(t, 4, lotsOf(c.Builds[0])[short.ID], "4 x 1.2 m hold all: 1.2 = 4 x 0.3 = 6 x 0.2")
	require.Equal(t, []any{4, int64(4800), int64(1440)}, []any{c.Totals.Boards, c.Totals.LengthMM, c.Totals.CostMinor})
	require.Equal(t, workshop.Totals{Boards: 2, LengthMM: 4000, CostMinor: 1200}, *c.Best, "0.8 m and 2.40 more than needed")
	require.Equal(t, "4 boards; with those you chose, no plan takes less of the others.", c.Plans[0].Note())
	c, err = w.room.CuttingChoose(t.Context(), c.ID, workshop.Choices{LeftOut: []workshop.LotLeftOut{{LotID: long.ID, Count: 3}}})
	require.NoError(t, err)
	require.LessOrEqual(t, lotsOf(c.Builds[0])[long.ID], 1)
	require.Equal(t, int64(0), c.Totals.MissingMM)
	c, err = w.room.CuttingChoose(t.Context(), c.ID, workshop.Choices{})
	require.NoError(t, err)
	require.Nil(t, c.Best)
	require.Equal(t, map[int64]int{long.ID: 2}, lotsOf(c.Builds[0]))
	c, err = w.room.CuttingChoose(t.Context(), c.ID, workshop.Choices{Pinned: []int64{short.ID}})
	require.NoError(t, err)
	c, err = w.room.CuttingDone(t.Context(), c.ID, c.Plans[0].ID, 0, 1, w.now)
	require.NoError(t, err)
	require.Equal(t, []int{3, 4}, []int{c.Totals.Boards, c.Laid.Boards}, "what is compared stays what was laid")
}

func lotsOf(b workshop.Build) map[int64]int {
	out := map[int64]int{}
	for _, c := range b.Claims {
		if c.Thing.Kind == claims.LotKind {
			out[c.Thing.ID] += c.Quantity
		}
	}
	return out
}

// A part that asks for clear boards gets no others; boards of better grade serve lesser
// parts too.
func TestCuttingRespectsGrade(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	rev := w.drawn("fine", func(m *hive.Model) { m.Parts[0].Grade = "clear" }) // 4 x 300 clear, 4 x 200 any
	knotty, clear := w.graded(2000, 5, "knotty", "28", ""), w.graded(600, 5, "clear", "28", "")
	b := w.build(1, func(n *workshop.BuildNew) { n.RevisionID = rev.ID })
	require.Equal(t, map[int64]int{knotty.ID: 0, clear.ID: 4}, map[int64]int{knotty.ID: lotsOf(b)[knotty.ID], clear.ID: lotsOf(b)[clear.ID]},
		"1.2 m of clear parts, and 0.8 m of others from two more clear boards: 1.2 m is less than 2 m")
	require.Equal(t, []string{"clear", "knotty"}, []string{b.Plans[0].Grade, b.Plans[1].Grade})
	// Without the clear boards the clear parts are short, though knotty ones lie there.
	_, err := w.room.CuttingChoose(t.Context(), b.CuttingID, workshop.Choices{LeftOut: []workshop.LotLeftOut{{LotID: clear.ID}}})
	require.NoError(t, err)
	b, err = w.room.BuildGet(t.Context(), b.ID)
	require.NoError(t, err)
	require.Equal(t, "1.2 m of 100 x 28 hoop pine short", b.Short[0])
	require.Equal(t, map[int64]int{knotty.ID: 1}, lotsOf(b))
}

// Boards are ticked as they are cut; one fails; the rest is laid anew and keeps them.
func TestCuttingBoardByBoard(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	lot := w.graded(2200, 5, "sound", "28", "rack 2")
	b := w.build(3) // 6.0 m of 2.2 m boards: 12 x 300 + 12 x 200
	c, err := w.room.CuttingPutAside(t.Context(), b.CuttingID)
	require.NoError(t, err)
	require.Equal(t, 3, c.Totals.Boards)
	p := c.Plans[0]
	c, err = w.room.CuttingDone(t.Context(), c.ID, p.ID, 0, 1, w.now)
	require.NoError(t, err)
	require.Equal(t, 4, w.onRack(lot.ID), "a fact: it has left the rack")
	require.Equal(t, 2, c.Totals.Boards)
	require.Len(t, c.Cut, 1)
	require.NotNil(t, c.Builds[0].StartedAt)
	p = c.Plans[0]
	open := 0
	for p.Left(open) == 0 {
		open++
	}
	// The next one has a shake: 900 mm are good. The plan goes on with what is there, and
	// the boards stay put aside.
	c, err = w.room.CuttingFailed(t.Context(), c.ID, workshop.Failed{PlanID: p.ID, Layout: open, UsableMM: ptr(930), At: w.now})
	require.NoError(t, err)
	require.Equal(t, 3, w.onRack(lot.ID))
	lots, _, err := w.timber.LotList(t.Context(), timber.LotFilter{})
	require.NoError(t, err)
	byLength := map[int]timber.Lot{}
	for _, l := range lots {
		byLength[l.LengthMM] = l
	}
	require.Equal(t, []any{1, false, "rack 2"}, []any{byLength[900].OnHand, byLength[900].Offcut, byLength[900].Place}, "rounded down to the step")
	require.NotNil(t, c.AcceptedAt)
	for _, k := range c.Builds[0].Claims {
		require.Equal(t, claims.PutAside, k.Strength)
	}
	require.Equal(t, int64(0), c.Totals.MissingMM)
	_, err = w.room.CuttingDone(t.Context(), c.ID, p.ID, open, 1, w.now)
	require.True(t, fault.Is(err, fault.Conflict), "the plan was laid anew: %v", err)
	p = c.Plans[0]
	c, err = w.room.CuttingFailed(t.Context(), c.ID, workshop.Failed{PlanID: p.ID, Layout: 0, At: w.now})
	require.NoError(t, err)
	require.Equal(t, 1, c.Choices.LeftOut[0].Count)
	for _, p := range c.Plans {
		for i := range p.Answered.Layouts {
			c, err = w.room.CuttingDone(t.Context(), c.ID, p.ID, i, 0, w.now)
			require.NoError(t, err)
		}
	}
	require.Equal(t, 0, c.Totals.Boards)
	cut := map[string]int{"brood-side": w.cut(b.ID, "brood-side"), "honey-side": w.cut(b.ID, "honey-side")}
	require.Equal(t, map[string]int{"brood-side": 12, "honey-side": 12}, cut, "each part once, whatever happened")
	before := w.id(`SELECT count(*) FROM stock_move`)
	got, err := w.room.BuildGet(t.Context(), b.ID)
	require.NoError(t, err)
	_, err = w.room.BuildFinish(t.Context(), workshop.Finish{BuildID: b.ID, Version: got.Version, At: w.now})
	require.NoError(t, err)
	require.Equal(t, int64(0), w.id(`SELECT count(*) FROM stock_move WHERE id > (SELECT max(id) - (SELECT count(*) FROM stock_move) + $1 FROM stock_move) AND kind = 'cut'`, before), "nothing is cut twice")
}

func (w *world) cut(build int64, part string) int {
	return int(w.id(`SELECT coalesce(sum(count), 0)::bigint FROM cut_part WHERE build_id = $1 AND part = $2`, build, part))
}

// A batch is finished in parts: boards, fittings and cost follow.
func TestBuildFinishInParts(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	lot := w.lot(2000, 4)
	w.haveScrews(64)
	b := w.build(4, func(n *workshop.BuildNew) { n.Units = []int64{w.unit} }) // 8.0 m: four boards
	b, err := w.room.CuttingAccept(t.Context(), b.ID)
	require.NoError(t, err)
	_, err = w.room.BuildFinish(t.Context(), workshop.Finish{BuildID: b.ID, Version: b.Version, At: w.now, Pieces: 5})
	requireField(t, err, fault.Invalid, "/pieces")
	out, err := w.room.BuildFinish(t.Context(), workshop.Finish{BuildID: b.ID, Version: b.Version, At: w.now, Pieces: 1})
	require.NoError(t, err)
	require.Len(t, out.Boxes, 1)
	require.Equal(t, w.unit, *out.Boxes[0].ClaimedByUnitID)
	require.True(t, out.Build.Open())
	require.Equal(t, 1, out.Build.Finished)
	screws, err := w.timber.ItemGet(t.Context(), w.screws.ID)
	require.NoError(t, err)
	require.Equal(t, []int{48, 48}, []int{screws.OnHand, screws.PutAside}, "16 of 64 are used, the rest stays put aside")
	require.GreaterOrEqual(t, w.cut(b.ID, "brood-side"), 4)
	require.GreaterOrEqual(t, w.cut(b.ID, "honey-side"), 4)
	left := w.onRack(lot.ID)
	require.Less(t, left, 4)
	l, err := w.timber.LotGet(t.Context(), lot.ID)
	require.NoError(t, err)
	require.Equal(t, left, l.PutAside, "boards that are not cut stay put aside")
	free, err := workshop.OutputsFree(t.Context(), w.db, w.model.ID, w.species.ID, nil)
	require.NoError(t, err)
	require.Len(t, free, 3, "the finished piece is no longer to come")
	require.True(t, fault.Is(w.room.OutputAssign(t.Context(), b.ID, 1, nil), fault.Conflict))
	require.True(t, fault.Is(w.room.OutputSpoil(t.Context(), b.ID, 1, w.now), fault.NotFound))
	_, err = w.room.BuildCancel(t.Context(), b.ID, out.Build.Version, "no")
	require.True(t, fault.Is(err, fault.Conflict))

	first := *out.Boxes[0].CostMinor
	out, err = w.room.BuildFinish(t.Context(), workshop.Finish{BuildID: b.ID, Version: out.Build.Version, At: w.now, Spoiled: []int{4}})
	require.NoError(t, err)
	require.Len(t, out.Boxes, 2)
	require.NotNil(t, out.Build.FinishedAt)
	require.Equal(t, 0, w.onRack(lot.ID))
	screws, err = w.timber.ItemGet(t.Context(), w.screws.ID)
	require.NoError(t, err)
	require.Equal(t, []int{0, 0}, []int{screws.OnHand, screws.PutAside})
	// 8 m at 3.00 and 64 screws at 0.10 are 30.40, and every cent of it lies on a box.
	require.InDelta(t, 3040, first+*out.Boxes[0].CostMinor+*out.Boxes[1].CostMinor, 2)
	require.InDelta(t, 600+160, first, 0.5, "2 m and 16 screws")
}

// Two plans that hold the same boards are accepted at once: one is refused.
func TestCuttingAcceptedAtOnce(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	lot := w.lot(2000, 4)
	builds := []workshop.Build{w.build(4), w.build(4)}
	require.NoError(t, w.tx(func(ctx context.Context, tx pgx.Tx) error {
		_, err := claims.EndFor(ctx, tx, w.now, claims.Build(builds[0].ID), claims.Relaid, "")
		return err
	}))
	_, err := w.room.CuttingLay(t.Context(), builds[1].ID) // both plans hold the four boards now
	require.NoError(t, err)
	require.NoError(t, w.tx(func(ctx context.Context, tx pgx.Tx) error {
		_, err := claims.EndFor(ctx, tx, w.now, claims.Build(builds[1].ID), claims.Relaid, "")
		return err
	}))
	errs := make([]error, 2)
	var wg sync.WaitGroup
	for i, b := range builds {
		wg.Go(func() { _, errs[i] = w.room.CuttingAccept(t.Context(), b.ID) })
	}
	wg.Wait()
	refused := 0
	for _, err := range errs {
		if err != nil {
			require.True(t, fault.Is(err, fault.Conflict), "%v", err)
			refused++
		}
	}
	require.Equal(t, 1, refused)
	l, err := w.timber.LotGet(t.Context(), lot.ID)
	require.NoError(t, err)
	require.Equal(t, 4, l.PutAside)
}

// Boards that are all truly 26 mm thick change the lengths that hang on the wall; mixed
// ones do not, and the maker is told.
func TestTrueThicknessChangesPartLengths(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	rev := w.drawn("between", func(m *hive.Model) { m.Parts[1].Length = hive.Length{Width: 1, Wall: -2} }) // 200 - 2 walls
	alike := w.graded(2000, 3, "sound", "26", "")
	b := w.build(1, func(n *workshop.BuildNew) { n.RevisionID = rev.ID })
	require.Equal(t, map[int64]int{alike.ID: 1}, lotsOf(b))
	require.Equal(t, "148", b.Parts[1].LengthMM.String(), "200 - 2 x 26; with the drawn wall of 28 it were 144")
	require.Equal(t, "26", b.TrueWallMM.String())
	require.Empty(t, b.Warnings)

	other := w.graded(600, 3, "sound", "27.5", "")
	c, err := w.room.CuttingChoose(t.Context(), b.CuttingID, workshop.Choices{Pinned: []int64{other.ID}, LeftOut: []workshop.LotLeftOut{{LotID: alike.ID, Count: 2}}})
	require.NoError(t, err)
	require.Equal(t, "145", c.Builds[0].Parts[1].LengthMM.String(), "all from boards of 27.5")
	c, err = w.room.CuttingChoose(t.Context(), c.ID, workshop.Choices{LeftOut: []workshop.LotLeftOut{{LotID: alike.ID, Count: 2}, {LotID: other.ID, Count: 0}}})
	require.NoError(t, err)
	require.Equal(t, "148", c.Builds[0].Parts[1].LengthMM.String())
	two := w.build(2, func(n *workshop.BuildNew) { n.RevisionID = rev.ID }) // two boards of 26 left, but pin short ones
	c, err = w.room.CuttingChoose(t.Context(), two.CuttingID, workshop.Choices{Pinned: []int64{other.ID}})
	require.NoError(t, err)
	require.Len(t, c.Builds[0].Warnings, 1)
	require.Contains(t, c.Builds[0].Warnings[0], "mixed: truly 26 to 27.5 mm thick")
}

// A roof of 290 mm is glued of three strips of 100 mm: 3 x (100 - 2) = 294 by hand.
func TestStripsAreGluedToPanels(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	rev := w.drawn("wide", func(m *hive.Model) {
		m.Parts = append(m.Parts, hive.Part{ID: "lid", Name: "lid", Count: 1, BoardSize: hive.BoardSize{WidthMM: 100, ThicknessMM: 28}, Length: hive.Length{Length: 1}, Strips: &hive.Strips{Count: 3, WidthMM: 290}})
	})
	w.lot(2000, 9)
	b := w.build(2, func(n *workshop.BuildNew) { n.RevisionID = rev.ID })
	lid := b.Parts[2]
	require.Equal(t, []any{3, 6, "310", "290"}, []any{lid.Each, lid.Count, lid.LengthMM.String(), lid.PanelWidthMM.String()}, "10 mm more to trim after gluing")
	require.Equal(t, "3 strips glued edge to edge make one, 290 mm wide", lid.Note())
	require.Equal(t, []string{"cut", workshop.GlueUp, "glue"}, []string{b.Operations[0].Name, b.Operations[1].Name, b.Operations[2].Name})
	require.Equal(t, 15+2*8.0, b.Operations[1].StandardMin(2))
	bad := body()
	bad.Parts[0].Strips = &hive.Strips{Count: 3, WidthMM: 295}
	_, err := w.room.RevisionAdd(t.Context(), workshop.Drawing{ModelID: rev.ModelID, Body: bad, Reason: "x"})
	requireField(t, err, fault.Invalid, "/body/parts/0/strips/width_mm")
	bad.Parts[0].Strips, bad.Parts[0].Grade = nil, "gold"
	_, err = w.room.RevisionAdd(t.Context(), workshop.Drawing{ModelID: rev.ModelID, Body: bad, Reason: "x"})
	requireField(t, err, fault.Invalid, "/body/parts/0/grade")
}

// The law of lengths over what the book says, on invented racks: metres of boards that
// left it are parts, kerfs, trims, offcuts that came back and what fell away; nothing is
// below zero, and each part is there once.
func TestLengthBalanceOfMoves(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(7, 11))
	for range 6 {
		w := newWorld(t)
		set, err := house.New(w.db).SettingsGet(t.Context())
		require.NoError(t, err)
		kerf, trim := float64(2+rng.IntN(4)), float64(rng.IntN(15))
		set.SawKerfMM, set.TrimMM, set.KeepOffcutMM = decimal.NewFromFloat(kerf), decimal.NewFromFloat(trim), 200+rng.IntN(300)
		_, err = house.New(w.db).SettingsPut(t.Context(), set)
		require.NoError(t, err)
		for range 4 {
			w.lot(900+50*rng.IntN(60), 2+rng.IntN(9))
		}
		a, b := w.build(1+rng.IntN(4)), w.build(1+rng.IntN(4))
		c, err := w.room.CuttingTogether(t.Context(), []int64{a.ID, b.ID})
		require.NoError(t, err)
		if c.Totals.MissingMM > 0 {
			continue
		}
		c, err = w.room.CuttingPutAside(t.Context(), c.ID)
		require.NoError(t, err)
		plan := c.Plans[rng.IntN(len(c.Plans))]
		if len(plan.Answered.Layouts) > 0 {
			_, err = w.room.CuttingDone(t.Context(), c.ID, plan.ID, rng.IntN(len(plan.Answered.Layouts)), 1, w.now)
			require.NoError(t, err)
		}
		for _, id := range []int64{a.ID, b.ID} {
			one, err := w.room.BuildGet(t.Context(), id)
			require.NoError(t, err)
			if one.Quantity > 1 {
				_, err = w.room.BuildFinish(t.Context(), workshop.Finish{BuildID: id, Version: one.Version, At: w.now, Pieces: 1})
				require.NoError(t, err)
				one, err = w.room.BuildGet(t.Context(), id)
				require.NoError(t, err)
			}
			_, err = w.room.BuildFinish(t.Context(), workshop.Finish{BuildID: id, Version: one.Version, At: w.now})
			require.NoError(t, err)
			for _, p := range one.Parts {
				require.Equal(t, p.Count, w.cut(id, p.ID))
			}
		}
		out := w.id(`SELECT coalesce(-sum(m.quantity::bigint * l.length_mm), 0)::bigint FROM stock_move m JOIN board_lot l ON l.id = m.lot_id WHERE m.kind = 'cut'`)
		back := w.id(`SELECT coalesce(sum(m.quantity::bigint * l.length_mm), 0)::bigint FROM stock_move m JOIN board_lot l ON l.id = m.lot_id WHERE m.kind = 'offcut'`)
		parts := w.id(`SELECT coalesce(sum(count * length_mm), 0)::bigint FROM cut_part`)
		boards := w.id(`SELECT coalesce(sum(boards), 0)::bigint FROM board_cut`)
		pieces := w.id(`SELECT coalesce(sum(count), 0)::bigint FROM cut_part`)
		offcuts := w.id(`SELECT coalesce(sum(quantity), 0)::bigint FROM stock_move WHERE kind = 'offcut'`)
		require.Equal(t, boards, w.id(`SELECT coalesce(-sum(quantity), 0)::bigint FROM stock_move WHERE kind = 'cut'`))
		require.Equal(t, int64(0), w.id(`SELECT count(*) FROM stock_move WHERE kind IN ('found', 'lost') AND lot_id IS NOT NULL`))
		waste := float64(out-back-parts) - kerf*float64(pieces-boards+offcuts) - 2*trim*float64(boards)
		require.GreaterOrEqual(t, waste, -1e-6, "metres in are parts, kerf, trim, offcuts and waste")
		most := float64(boards)*(math.Max(float64(set.KeepOffcutMM), 50)+kerf) + 50*float64(offcuts)
		require.LessOrEqual(t, waste, most, "what falls away is shorter than an offcut worth keeping")
	}
}
