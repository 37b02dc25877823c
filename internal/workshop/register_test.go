package workshop_test

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
	"kerfbook/internal/workshop"
)

func (w *world) party(name string) int64 {
	w.t.Helper()
	id, err := postgres.Value[int64](w.t.Context(), w.db, `INSERT INTO party (name) VALUES ($1) RETURNING id`, name)
	require.NoError(w.t, err)
	return id
}

// sold is a box that was made a year ago and is its buyer's since.
func (w *world) sold() workshop.Box {
	w.t.Helper()
	b, err := w.room.BoxRegister(w.t.Context(), workshop.BoxNew{RevisionID: &w.rev.ID, FinishedAt: w.now.AddDate(-1, 0, 0), OwnerID: &w.buyer})
	require.NoError(w.t, err)
	return b
}

// chain writes the owners of a box from the first on.
func chain(b workshop.Box) string {
	var out []string
	for i := len(b.Owners) - 1; i >= 0; i-- {
		o := b.Owners[i]
		name, to := o.PartyName, "now"
		if name == "" {
			name = "workshop"
		}
		if o.ToAt != nil {
			to = o.ToAt.Format(time.DateOnly)
		}
		out = append(out, fmt.Sprintf("%s %s..%s", name, o.FromAt.Format(time.DateOnly), to))
	}
	return strings.Join(out, ", ")
}

func TestBoxGoesThroughManyHands(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	b := w.sold()
	bram, cleo := w.party("Bram"), w.party("Cleo")
	note := func(party *int64, at time.Time) (workshop.Box, error) {
		return w.room.BoxOwnerNote(t.Context(), workshop.OwnerNote{BoxID: b.ID, PartyID: party, At: at, Note: "told by telephone"})
	}
	at := func(s string) time.Time { return day(s).Add(2 * time.Hour) }
	got, err := note(&cleo, at("2026-01-10"))
	require.NoError(t, err)
	require.Equal(t, cleo, *got.OwnerPartyID)
	// Bram had it before Cleo, as the workshop hears later.
	got, err = note(&bram, at("2025-08-01"))
	require.NoError(t, err)
	buyer := got.Owners[2].PartyName
	require.Equal(t, buyer+" 2025-03-01..2025-08-01, Bram 2025-08-01..2026-01-10, Cleo 2026-01-10..now", chain(got))
	require.Equal(t, cleo, *got.OwnerPartyID, "the present owner stays")
	require.Equal(t, "told by telephone", got.Owners[1].Note)
	require.Equal(t, w.now, got.Owners[1].RecordedAt.UTC())

	for name, c := range map[string]struct {
		party   *int64
		at      time.Time
		kind    fault.Kind
		pointer string
	}{
		"before it was made":           {&bram, at("2025-02-20"), fault.Invalid, "/from_at"},
		"in the future":                {&bram, w.now.AddDate(0, 0, 1), fault.Invalid, "/from_at"},
		"theirs already":               {&cleo, at("2026-02-01"), fault.Invalid, "/party_id"},
		"theirs soon after":            {&cleo, at("2025-12-01"), fault.Invalid, "/party_id"},
		"theirs then":                  {&bram, at("2025-12-01"), fault.Invalid, "/party_id"},
		"nobody's: there is no person": {ptr(int64(999)), at("2026-02-01"), fault.Conflict, ""},
	} {
		_, err := note(c.party, c.at)
		require.True(t, fault.Is(err, c.kind), "%s: %v", name, err)
		if c.pointer != "" {
			requireField(t, err, c.kind, c.pointer)
		}
	}
	_, err = w.room.BoxOwnerNote(t.Context(), workshop.OwnerNote{BoxID: 999, PartyID: &bram, At: w.now})
	require.True(t, fault.Is(err, fault.NotFound), "%v", err)
	// Source: the schema. One owner at a time, without a gap.
	gaps, err := postgres.Value[int](t.Context(), w.db, `SELECT count(*)::int FROM box_owner a WHERE box_id = $1 AND to_at IS NOT NULL AND NOT EXISTS (SELECT FROM box_owner b WHERE b.box_id = a.box_id AND b.from_at = a.to_at)`, b.ID)
	require.NoError(t, err)
	require.Zero(t, gaps)

	got, err = note(nil, at("2026-02-20"))
	require.NoError(t, err)
	require.True(t, got.Ours, "bought back")
	_, err = note(&bram, at("2026-02-25"))
	require.True(t, fault.Is(err, fault.Conflict), "what is ours is sold, with its papers")
}

func TestStolenBoxIsNeitherPromisedNorSoldOn(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	ctx := t.Context()
	b, err := w.room.BoxRegister(ctx, workshop.BoxNew{RevisionID: &w.rev.ID, FinishedAt: w.now.AddDate(0, -2, 0)})
	require.NoError(t, err)
	put := func() error {
		return w.tx(func(ctx context.Context, tx pgx.Tx) error {
			_, err := claims.Put(ctx, tx, w.now, []claims.Want{{For: claims.Unit(w.unit), Thing: claims.Box(b.ID), Quantity: 1, Strength: claims.PutAside}})
			return err
		})
	}
	require.NoError(t, put())
	_, err = w.room.BoxRecovered(ctx, b.ID, w.now, "")
	require.True(t, fault.Is(err, fault.Conflict), "recovered when not stolen")
	report := workshop.StolenReport{BoxID: b.ID, StolenAt: w.now.Add(-time.Hour), ReportedBy: "Mara Lind"}
	for pointer, bad := range map[string]workshop.StolenReport{
		"/stolen_at":        {BoxID: b.ID, StolenAt: w.now.AddDate(0, 0, 1), ReportedBy: "x"},
		"/reported_by":      {BoxID: b.ID, StolenAt: w.now, ReportedBy: " "},
		"/police_reference": {BoxID: b.ID, StolenAt: w.now, ReportedBy: "x", PoliceReference: strings.Repeat("9", 201)},
	} {
		_, err := w.room.BoxStolen(ctx, bad)
		requireField(t, err, fault.Invalid, pointer)
	}
	_, err = w.room.BoxStolen(ctx, workshop.StolenReport{BoxID: b.ID, StolenAt: w.now.AddDate(-1, 0, 0), ReportedBy: "x"})
	requireField(t, err, fault.Invalid, "/stolen_at")
	got, err := w.room.BoxStolen(ctx, report)
	require.NoError(t, err)
	require.NotNil(t, got.StolenAt)
	require.Nil(t, got.ClaimedByUnitID, "the promise is broken by the fact")
	require.True(t, fault.Is(put(), fault.Conflict))
	_, err = w.room.BoxStolen(ctx, report)
	require.True(t, fault.Is(err, fault.Conflict), "stolen twice")
	shelf, _, err := w.room.BoxList(ctx, workshop.BoxFilter{Shelf: true})
	require.NoError(t, err)
	require.Empty(t, shelf)
	free, err := workshop.ShelfBoxes(ctx, w.db, w.model.ID, 0, nil, false)
	require.NoError(t, err)
	require.Empty(t, free)

	list, err := w.room.StolenNow(ctx)
	require.NoError(t, err)
	require.Len(t, list, 1)
	require.NoError(t, w.room.ReportChange(ctx, workshop.StolenReport{ID: list[0].ID, Version: list[0].Version, PoliceReference: "QP 1"}))
	require.True(t, fault.Is(w.room.ReportChange(ctx, workshop.StolenReport{ID: list[0].ID, Version: list[0].Version}), fault.Stale))
	_, err = w.room.BoxRecovered(ctx, b.ID, w.now.AddDate(0, -1, 0), "")
	requireField(t, err, fault.Invalid, "/recovered_at")
	got, err = w.room.BoxRecovered(ctx, b.ID, w.now, "stood behind the school")
	require.NoError(t, err)
	require.Nil(t, got.StolenAt)
	require.NoError(t, put(), "found again, it can be promised")
	_, err = w.room.BoxStolen(ctx, report)
	require.NoError(t, err, "and it can be stolen again")
	old, err := w.room.ReportsOf(ctx, b.ID)
	require.NoError(t, err)
	require.Equal(t, []string{"QP 1", ""}, []string{old[0].PoliceReference, old[1].PoliceReference})

	sold := w.sold()
	_, err = w.room.BoxStolen(ctx, workshop.StolenReport{BoxID: sold.ID, StolenAt: w.now.Add(-time.Hour), ReportedBy: "its owner"})
	require.NoError(t, err)
	_, err = w.room.BoxOwnerNote(ctx, workshop.OwnerNote{BoxID: sold.ID, PartyID: ptr(w.party("Bram")), At: w.now})
	require.True(t, fault.Is(err, fault.Conflict), "a stolen box is not sold on")
	_, err = w.room.BoxOwnerNote(ctx, workshop.OwnerNote{BoxID: sold.ID, PartyID: ptr(w.party("Cleo")), At: w.now.AddDate(0, -3, 0)})
	require.NoError(t, err, "what was before may still be told")
}

func TestStolenMarkAndReportKeepStep(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	b := w.sold()
	open := func() (n int) {
		list, err := w.room.StolenNow(t.Context())
		require.NoError(t, err)
		return len(list)
	}
	b, err := w.room.BoxSave(t.Context(), workshop.BoxChange{ID: b.ID, Version: b.Version, StolenAt: &w.now})
	require.NoError(t, err)
	require.Equal(t, 1, open())
	earlier := w.now.Add(-time.Hour)
	b, err = w.room.BoxSave(t.Context(), workshop.BoxChange{ID: b.ID, Version: b.Version, StolenAt: &earlier, Notes: "x"})
	require.NoError(t, err)
	require.Equal(t, 1, open())
	_, err = w.room.BoxSave(t.Context(), workshop.BoxChange{ID: b.ID, Version: b.Version})
	require.NoError(t, err)
	require.Zero(t, open())
}

func TestFinderLearnsOnlyWhetherItIsReported(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	b := w.sold()
	found := func(typed, want string) {
		t.Helper()
		got, _, err := w.room.Found(t.Context(), typed)
		require.NoError(t, err)
		require.Equal(t, want, got)
	}
	found(b.Serial, workshop.FoundNot)
	found("5724", workshop.FoundNotOurs)
	for _, bad := range []string{"", "x", "123", "5723", strings.Repeat("9", 500), b.Serial + "'; --"} {
		_, _, err := w.room.Found(t.Context(), bad)
		requireField(t, err, fault.Invalid, "/serial")
	}
	_, err := w.room.BoxStolen(t.Context(), workshop.StolenReport{BoxID: b.ID, StolenAt: w.now.Add(-time.Hour), ReportedBy: "its owner"})
	require.NoError(t, err)
	found(b.Serial[:2]+" "+b.Serial[2:], workshop.FoundStolen)
	list, err := w.room.StolenNow(t.Context())
	require.NoError(t, err)
	require.Equal(t, w.now, list[0].AskedAt.UTC(), "somebody has it before the eye")
}

// Source: brute force over every serial of four and five digits, by what a hand does wrong.
func TestSerialFormsHoldWhatWasMeant(t *testing.T) {
	t.Parallel()
	for n := 1000; n < 100_000; n++ {
		s := fmt.Sprint(n)
		if !workshop.SerialOK(s) {
			continue
		}
		if n > 9999 && n%7 > 0 {
			continue // a seventh of the longer ones
		}
		check := func(typed string) {
			if typed != s {
				require.Contains(t, workshop.SerialForms(typed), s, "typed %s for %s", typed, s)
			}
		}
		require.Equal(t, s, workshop.SerialForms(s)[0])
		check(s[:len(s)-1])
		for i := range s {
			check(s[:i] + "7" + s[i+1:])
			check(s[:i] + "7" + s[i:])
			check(s[:i] + s[i+1:])
			if i > 0 {
				check(s[:i-1] + s[i:i+1] + s[i-1:i] + s[i+1:])
			}
		}
	}
	for _, none := range []string{"", "12", "abc", "C0012", "1234567890", "12\x00"} {
		require.Empty(t, workshop.SerialForms(none), none)
	}
}

func TestBoxIsFoundByASerialTypedWrongly(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	one, two := w.sold(), w.sold() // 1007 and 1010 or so
	like := func(typed string) []string {
		list, err := w.room.BoxesLike(t.Context(), typed)
		require.NoError(t, err)
		var out []string
		for _, b := range list {
			out = append(out, b.Serial)
		}
		return out
	}
	require.Equal(t, []string{one.Serial}, like(one.Serial), "the one that bears it, alone")
	require.Equal(t, two.Serial, like(two.Serial[:3])[0], "without its check digit")
	require.Contains(t, like("9"+two.Serial[1:]), two.Serial)
	require.Empty(t, like("777777"))
	_, err := w.room.BoxesLike(t.Context(), "blue box")
	requireField(t, err, fault.Invalid, "/serial")
}

func FuzzSerialForms(f *testing.F) {
	for _, s := range []string{"1007", "10 16", "", "9999999999", "12a4", "１００７", "\xff\x00"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		for _, form := range workshop.SerialForms(s) {
			require.True(t, workshop.SerialOK(form))
		}
	})
}
