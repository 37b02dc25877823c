package apiary

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// The descent of every colony of an invented apiary is what a walk over all pairs of
// parent and child finds.
func TestDescentIsWhatAWalkFinds(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	rng := rand.New(rand.NewPCG(7, 11))
	var ids []int64
	parents := map[int64][]int64{}
	kinds := []string{"split", "brood given", "united"}
	for i := range 24 {
		var up []Parent
		for range rng.IntN(3) {
			if i == 0 {
				break
			}
			p := Parent{ParentID: ids[rng.IntN(i)], Kind: kinds[rng.IntN(3)]}
			again := false
			for _, x := range up {
				again = again || x.ParentID == p.ParentID
			}
			if !again {
				up = append(up, p)
			}
		}
		c := w.colony(t, func(n *NewColony) { n.Parents = up })
		ids = append(ids, c.ID)
		for _, p := range up {
			parents[c.ID] = append(parents[c.ID], p.ParentID)
		}
	}
	// reach finds who is up to six steps above from, by brute force over all ways.
	var reach func(from int64, steps int, seen map[int64]bool)
	reach = func(from int64, steps int, seen map[int64]bool) {
		seen[from] = true
		if steps == 0 {
			return
		}
		for _, p := range parents[from] {
			reach(p, steps-1, seen)
		}
	}
	above := map[int64]map[int64]bool{}
	for _, id := range ids {
		above[id] = map[int64]bool{}
		reach(id, descentSteps, above[id])
	}
	for _, id := range ids {
		d, err := w.DescentOf(t.Context(), id)
		require.NoError(t, err)
		require.Equal(t, id, d.Kin[0].ColonyID, "itself is the nearest")
		got := map[int64]int{}
		for _, k := range d.Kin {
			got[k.ColonyID] = k.Step
		}
		for _, other := range ids {
			step, there := got[other]
			require.Equal(t, above[id][other] || above[other][id], there, "%d of %d", other, id)
			if there && other != id {
				require.Equal(t, above[id][other], step < 0)
			}
		}
		ties := 0
		for child, list := range parents {
			for _, p := range list {
				if _, ok := got[child]; !ok {
					continue
				}
				if _, ok := got[p]; ok {
					ties++
				}
			}
		}
		require.Len(t, d.Ties, ties)
	}
	_, err := w.DescentOf(t.Context(), 999)
	require.True(t, fault.Is(err, fault.NotFound))
}

func TestHowKinStandsInADescent(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	ada, err := postgres.Value[int64](t.Context(), w.db, `INSERT INTO party (name) VALUES ('Ada Quill') RETURNING id`)
	require.NoError(t, err)
	mother := w.colony(t, nil)
	born := func(change func(*NewColony)) Colony {
		return w.colony(t, func(n *NewColony) {
			n.Parents = []Parent{{ParentID: mother.ID, Kind: "split"}}
			if change != nil {
				change(n)
			}
		})
	}
	here, lost, sold, held := born(nil), born(nil), born(nil), born(nil)
	theirs := born(func(n *NewColony) { n.OwnerID = &ada })
	require.NoError(t, w.End(t.Context(), lost.ID, "ants", noon))
	require.NoError(t, w.Give(t.Context(), Move{ColonyID: sold.ID, ChangesOwner: true, OwnerID: &ada, At: noon}))
	require.NoError(t, w.HoldBack(t.Context(), held.ID, "mites"))
	d, err := w.DescentOf(t.Context(), mother.ID)
	require.NoError(t, err)
	got := map[int64][2]string{}
	for _, k := range d.Kin {
		got[k.ColonyID] = [2]string{k.Stands(), k.Words()}
	}
	require.Equal(t, map[int64][2]string{mother.ID: {"here", ""}, here.ID: {"here", ""}, lost.ID: {"gone", "gone: ants"}, sold.ID: {"handed over", "handed over to Ada Quill"}, held.ID: {"held back", "held back: mites"}, theirs.ID: {"another's", "of Ada Quill"}}, got)
}
