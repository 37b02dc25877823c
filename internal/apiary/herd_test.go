package apiary

import (
	"context"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/waiting"
	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

func numbers(list []Standing) []string {
	out := []string{}
	for _, s := range list {
		out = append(out, s.Number)
	}
	return out
}

// Each colony stands in one place of the herd: given or split, never both. Those held back,
// promised, lost or of another owner stand in none.
func TestHerdCountsEachColonyOnce(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	today := *day("2026-11-02")
	mother := w.colony(t, nil) // C0001
	child, err := w.Split(t.Context(), Splitting{ParentID: mother.ID, BoxID: w.box(t, "10040", nil), At: noon})
	require.NoError(t, err) // C0002
	ready := w.colony(t, func(n *NewColony) { n.SettledOn = day("2025-02-01") })
	held, promised, lost := w.colony(t, nil), w.colony(t, nil), w.colony(t, nil)
	require.NoError(t, w.HoldBack(t.Context(), held.ID, "chalk in the brood"))
	require.NoError(t, w.End(t.Context(), lost.ID, "flooded", noon))
	require.NoError(t, w.db.WithTx(t.Context(), func(ctx context.Context, tx pgx.Tx) error {
		_, err := claims.Put(ctx, tx, noon, []claims.Want{{For: claims.Unit(w.unit(t)), Thing: claims.Colony(promised.ID), Quantity: 1, Strength: claims.PutAside}})
		return err
	}))
	theirs := w.colony(t, func(n *NewColony) {
		id, err := postgres.Value[int64](t.Context(), w.db, `INSERT INTO party (name) VALUES ('Ada Quill') RETURNING id`)
		require.NoError(t, err)
		n.OwnerID = &id
	})
	require.NotZero(t, theirs.ID)
	bought := w.colony(t, func(n *NewColony) { n.BeganOn, n.SettledOn, n.SettlesAbout = nil, nil, day("2026-12-14") })

	h, err := w.HerdOf(t.Context(), w.species.ID, time.UTC, today)
	require.NoError(t, err)
	require.Equal(t, []string{ready.Number}, numbers(h.Ready))
	require.Equal(t, []string{child.Number, bought.Number}, numbers(h.Settling))
	require.Equal(t, today, h.Settling[0].Since, "the day of the split")
	require.Equal(t, "2026-10-05", h.Settling[1].Since.Format(time.DateOnly), "ten weeks before it is expected")
	require.Equal(t, []string{mother.Number}, numbers(h.Kept), "it has been split")
	require.Equal(t, today, h.Kept[0].Since)

	no, yes := false, true
	require.NoError(t, w.KeepToSplit(t.Context(), mother.ID, &no))
	require.NoError(t, w.KeepToSplit(t.Context(), ready.ID, &yes))
	h, err = w.HerdOf(t.Context(), w.species.ID, time.UTC, today)
	require.NoError(t, err)
	require.Equal(t, []string{mother.Number}, numbers(h.Ready))
	require.Equal(t, []string{ready.Number}, numbers(h.Kept))
	require.Equal(t, "2025-01-10", h.Kept[0].Since.Format(time.DateOnly), "never split: since it began")
	require.NoError(t, w.KeepToSplit(t.Context(), mother.ID, nil))
	h, err = w.HerdOf(t.Context(), w.species.ID, time.UTC, today)
	require.NoError(t, err)
	require.Empty(t, h.Ready, "left to the log again")
	require.True(t, fault.Is(w.KeepToSplit(t.Context(), lost.ID, &yes), fault.Conflict))
	require.True(t, fault.Is(w.KeepToSplit(t.Context(), 999, &yes), fault.NotFound))

	all, err := w.HerdsOf(t.Context(), time.UTC, today)
	require.NoError(t, err)
	require.Equal(t, h, all[w.species.ID])
	none, err := w.HerdOf(t.Context(), w.species.ID+1, time.UTC, today)
	require.NoError(t, err)
	require.Equal(t, Herd{Day: today}, none)
}

// The log of a herd entered through the room is read as it happened.
func TestLogOfReadsWhatHappened(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	today := *day("2026-11-02")
	split := func(mother Colony, on, settled string, change func(*NewColony)) Colony {
		return w.colony(t, func(n *NewColony) {
			n.BeganOn, n.SettledOn, n.Parents = day(on), nil, []Parent{{ParentID: mother.ID, Kind: "split", HappenedOn: day(on)}}
			n.HousedAt = *day(on)
			if settled != "" {
				n.SettledOn = day(settled)
			}
			if change != nil {
				change(n)
			}
		})
	}
	mother := w.colony(t, func(n *NewColony) { n.SettledOn, n.HousedAt = day("2024-01-01"), *day("2024-01-01") })
	split(mother, "2024-10-01", "2024-12-10", nil)
	lost := split(mother, "2025-12-01", "", nil)
	require.NoError(t, w.End(t.Context(), lost.ID, "queen did not take", *day("2026-01-20")))
	split(mother, "2026-10-20", "", nil)
	given := split(mother, "2026-10-21", "", nil)
	owner, err := postgres.Value[int64](t.Context(), w.db, `INSERT INTO party (name) VALUES ('Ada Quill') RETURNING id`)
	require.NoError(t, err)
	require.NoError(t, w.Give(t.Context(), Move{ColonyID: given.ID, ChangesOwner: true, OwnerID: &owner, Place: "Gully Road", At: noon}))

	l, err := w.LogOf(t.Context(), w.species.ID, time.UTC, today)
	require.NoError(t, err)
	require.ElementsMatch(t, []waiting.Rest{
		{From: *day("2024-10-01"), To: *day("2025-12-01"), Split: true},
		{From: *day("2025-12-01"), To: *day("2026-10-20"), Split: true},
		{From: *day("2026-10-21"), To: today},
	}, l.Rests, "two splits within a week are one")
	require.ElementsMatch(t, []waiting.Settling{
		{From: *day("2024-10-01"), To: *day("2024-12-10"), How: waiting.Settled},
		{From: *day("2025-12-01"), To: *day("2026-01-20"), How: waiting.Lost},
		{From: *day("2026-10-20"), To: today, How: waiting.Open},
	}, l.Settlings, "the one given away before it settled says nothing")
	// Worked by hand: the mother 1 Jan 2024 to 2 Nov 2026, the first split from 10 Dec 2024.
	require.InDelta(t, (1036.+692.)/365.25, l.StandYears, 0.005)
	require.Zero(t, l.StandLost)
	require.NoError(t, w.End(t.Context(), mother.ID, "flooded", noon))
	l, err = w.LogOf(t.Context(), w.species.ID, time.UTC, today)
	require.NoError(t, err)
	require.Equal(t, 1, l.StandLost)
}

// The whole way, from colonies entered in the book to the rates: splits that settle at a known
// rate, after a known time.
func TestRatesOfComeFromTheBookAndAreKept(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	today := *day("2026-11-02")
	before, err := w.RatesOf(t.Context(), w.species, time.UTC, today)
	require.NoError(t, err)
	require.InDelta(t, 0.8, before.SplitChance(), 1e-6, "the figure of the kind")
	rng, mother, settled := rand.New(rand.NewPCG(5, 6)), w.colony(t, nil), 0
	for i := range 90 {
		on := day("2018-10-01").AddDate(i/12, 0, i%12)
		c := w.colony(t, func(n *NewColony) {
			n.BeganOn, n.SettledOn, n.Parents = &on, nil, []Parent{{ParentID: mother.ID, Kind: "split", HappenedOn: &on}}
			if rng.Float64() < 0.6 {
				at := on.AddDate(0, 0, 120)
				n.SettledOn = &at
				settled++
			}
		})
		if c.SettledOn == nil {
			require.NoError(t, w.End(t.Context(), c.ID, "dwindled", on.AddDate(0, 0, 60)))
		}
	}
	after, err := w.RatesOf(t.Context(), w.species, time.UTC, today)
	require.NoError(t, err)
	require.Equal(t, 90, after.FatesSeen)
	require.InDelta(t, float64(settled)/90, after.SplitChance(), 0.06)
	require.InDelta(t, 120./7, after.SettlingWeeks(), 2)
	again, err := w.RatesOf(t.Context(), w.species, time.UTC, today)
	require.NoError(t, err)
	require.Equal(t, after, again)
}

func TestOutOfRangeIsSaidKindly(t *testing.T) {
	t.Parallel()
	s := StandardSpecies()[0]
	require.Empty(t, s.AskOutOfRange("QLD"))
	require.Empty(t, s.AskOutOfRange(""), "nobody knows where")
	said := s.AskOutOfRange("VIC")
	for _, part := range []string{"does not live in VIC by nature", "local rules come first", "local authority", "bee inspector", "local club"} {
		require.Contains(t, said, part)
	}
}
