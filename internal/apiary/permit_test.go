package apiary

import (
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/fault"
)

func (w *world) permit(t *testing.T, change func(*Permit)) Permit {
	t.Helper()
	p := Permit{Number: "WA 17", Authority: "Parks office", Kind: "take", Covers: "six trees at Gully Flat", FromOn: day("2026-01-01"), EndsOn: day("2026-12-31"), WarnDays: PermitWarnDays}
	if change != nil {
		change(&p)
	}
	p, err := w.PermitPut(t.Context(), p)
	require.NoError(t, err)
	return p
}

func TestPermitHoldsFromItsFirstDayToItsLast(t *testing.T) {
	t.Parallel()
	p := Permit{Number: "7", Authority: "Parks", FromOn: day("2026-03-01"), EndsOn: day("2026-05-31"), WarnDays: 30}
	for _, c := range []struct{ on, state, trouble string }{
		{"2026-02-28", "not yet", "Permit 7 of Parks begins on 1 March 2026."},
		{"2026-03-01", "holds", ""},
		{"2026-04-30", "holds", ""},     // 31 days before the last
		{"2026-05-01", "ends soon", ""}, // 30
		{"2026-05-31", "ends soon", ""}, // the last day is one on which it holds
		{"2026-06-01", "ended", "Permit 7 of Parks ended on 31 May 2026."},
	} {
		require.Equal(t, c.state, p.State(*day(c.on)), c.on)
		require.Equal(t, c.trouble, p.Trouble(*day(c.on)), c.on)
	}
	require.Equal(t, "holds", Permit{}.State(noon), "without dates it holds")
}

func TestPermitIsCheckedAndChanged(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	ctx := t.Context()
	_, err := w.PermitPut(ctx, Permit{Number: " ", Kind: "swim", FromOn: day("2026-03-02"), EndsOn: day("2026-03-01"), WarnDays: 400})
	require.True(t, fault.Is(err, fault.Invalid))
	require.ElementsMatch(t, []string{"/number", "/authority", "/kind", "/ends_on", "/warn_days"}, pointersOf(t, err))
	p := w.permit(t, nil)
	p.EndsOn, p.Notes = day("2027-06-30"), "renewed by letter"
	p, err = w.PermitPut(ctx, p)
	require.NoError(t, err)
	stale := p
	stale.Version--
	_, err = w.PermitPut(ctx, stale)
	require.True(t, fault.Is(err, fault.Stale), "%v", err)
	p.PutAway = true
	_, err = w.PermitPut(ctx, p)
	require.NoError(t, err)
	list, err := w.PermitList(ctx, false)
	require.NoError(t, err)
	require.Empty(t, list)
	list, err = w.PermitList(ctx, true)
	require.NoError(t, err)
	require.Len(t, list, 1)
	require.Equal(t, "put away", list[0].State(noon))
}

// A permit is spoken of before its end; afterwards only while something still stands
// under it.
func TestPermitsDue(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	ctx := t.Context()
	used := w.permit(t, func(p *Permit) { p.Number, p.EndsOn = "used", day("2026-10-01") })
	w.permit(t, func(p *Permit) { p.Number, p.EndsOn = "unused", day("2026-10-01") })
	w.permit(t, func(p *Permit) { p.Number, p.EndsOn, p.WarnDays = "near", day("2026-11-12"), 10 })
	w.permit(t, func(p *Permit) { p.Number, p.EndsOn, p.WarnDays = "far", day("2026-11-13"), 10 })
	w.permit(t, func(p *Permit) { p.Number, p.EndsOn = "endless", nil })
	box := w.box(t, "10016", nil)
	_, err := w.db.Exec(ctx, `INSERT INTO host_tree (name, permission, box_id, permit_id) VALUES ('gum', 'owner', $1, $2)`, box, used.ID)
	require.NoError(t, err)
	c := w.colony(t, nil)
	require.NoError(t, w.ColonyPermit(ctx, c.ID, &used.ID))
	require.True(t, fault.Is(w.ColonyPermit(ctx, 999, nil), fault.NotFound))
	_, err = w.db.Exec(ctx, `WITH n AS (INSERT INTO run (number, run_on) VALUES ('R1', '2026-11-05') RETURNING id) INSERT INTO run_stop (run_id, position, permit_id) SELECT id, 1, $1 FROM n`, used.ID)
	require.NoError(t, err)

	due, err := w.PermitsDue(ctx, *day("2026-11-02"))
	require.NoError(t, err)
	var numbers []string
	for _, p := range due {
		numbers = append(numbers, p.Number)
	}
	require.Equal(t, []string{"used", "near"}, numbers)
	require.Equal(t, 2, due[0].Open, "the tree and the stop; the colony was taken while it held or not, that is a fact")
	uses, err := w.PermitUses(ctx, used.ID)
	require.NoError(t, err)
	require.Len(t, uses, 3)
	require.False(t, uses[2].Open)
	require.Equal(t, "colony", uses[2].Kind)
	p, named, err := w.PermitOfColony(ctx, c.ID)
	require.NoError(t, err)
	require.True(t, named)
	require.Equal(t, "used", p.Number)
	words, err := w.PermitTrouble(ctx, &used.ID, noon)
	require.NoError(t, err)
	require.Equal(t, "Permit used of Parks office ended on 1 October 2026.", words)
	_, err = w.db.Exec(ctx, `UPDATE host_tree SET box_id = NULL`)
	require.NoError(t, err)
	_, err = w.db.Exec(ctx, `UPDATE run SET cancelled_at = now()`)
	require.NoError(t, err)
	due, err = w.PermitsDue(ctx, *day("2026-11-02"))
	require.NoError(t, err)
	require.Equal(t, []string{"near"}, []string{due[0].Number})
	require.Len(t, due, 1)
}

func pointersOf(t *testing.T, err error) []string {
	t.Helper()
	var f *fault.Error
	require.ErrorAs(t, err, &f)
	var out []string
	for _, x := range f.Fields {
		out = append(out, x.Pointer)
	}
	return out
}
