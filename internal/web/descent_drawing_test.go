package web

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/apiary"
)

// someDescent invents the kin of colony 1, no rings.
func someDescent(rng *rand.Rand, n int) apiary.Descent {
	kinds := []string{"split", "brood given", "united"}
	d := apiary.Descent{ColonyID: 1 + int64(rng.IntN(n))}
	for i := range int64(n) {
		d.Kin = append(d.Kin, apiary.Kin{ColonyID: i + 1, Number: fmt.Sprintf("C%04d", i+1), Name: strings.Repeat("Anna ", rng.IntN(9))})
		for range rng.IntN(3) {
			if i > 0 {
				d.Ties = append(d.Ties, apiary.Parent{ColonyID: i + 1, ParentID: 1 + rng.Int64N(i), Kind: kinds[rng.IntN(3)]})
			}
		}
	}
	return d
}

// Whatever the kin, each has a row of its own, under and further in than the one it came
// from; every tie has its line from mark to mark, and no two lines of further parents lie
// on one another.
func TestDescentDrawingOfAnyKin(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(3, 5))
	for range 400 {
		d := someDescent(rng, 2+rng.IntN(28))
		v := drawDescent(d)
		require.Len(t, v.Rows, len(d.Kin))
		require.Equal(t, descentTall*len(d.Kin), v.Height)
		at := map[string]descentRow{}
		self := 0
		for i, r := range v.Rows {
			require.Equal(t, descentTall*i+descentTall/2, r.Y, "a row each")
			at[r.Href] = r
			if r.Self {
				self++
			}
		}
		require.Len(t, at, len(d.Kin))
		require.Equal(t, 1, self)
		l := layDescent(d)
		lines := map[string]int{}
		for _, line := range v.Lines {
			lines[line.D]++
		}
		for child, tie := range l.under {
			p, c := at[hrefOf("colony", tie.ParentID)], at[hrefOf("colony", child)]
			require.Less(t, p.Y, c.Y, "the parent stands above")
			require.Equal(t, p.X+descentIn, c.X, "and further out")
			require.NotZero(t, lines[fmt.Sprintf("M %d %d L %d %d L %d %d", p.X, p.Y, p.X, c.Y, c.X, c.Y)])
		}
		var upright [][3]int // lane, from, to
		for _, line := range v.Lines {
			var p [4][2]int
			if n, _ := fmt.Sscanf(line.D, "M %d %d L %d %d L %d %d L %d %d", &p[0][0], &p[0][1], &p[1][0], &p[1][1], &p[2][0], &p[2][1], &p[3][0], &p[3][1]); n == 8 && (p[1][0]-6)%descentLane == 0 {
				require.GreaterOrEqual(t, p[1][0], 0)
				upright = append(upright, [3]int{p[1][0], min(p[1][1], p[2][1]), max(p[1][1], p[2][1])})
			}
		}
		for i, a := range upright {
			for _, b := range upright[:i] {
				require.False(t, a[0] == b[0] && a[1] < b[2] && b[1] < a[2], "%v on %v", a, b)
			}
		}
	}
	require.Nil(t, drawDescent(apiary.Descent{ColonyID: 1, Kin: []apiary.Kin{{ColonyID: 1}}}), "no kin, no drawing")
}

func TestDescentTellsThemApartWithoutColour(t *testing.T) {
	t.Parallel()
	d := apiary.Descent{ColonyID: 1, LeftOut: 2, Kin: []apiary.Kin{{ColonyID: 1, Number: "C0001", BeganAbout: "about 1961"}, {ColonyID: 2, Number: "C0002", EndedHow: "ants"}, {ColonyID: 3, Number: "C0003", Owner: "Ada Quill", WasOurs: true},
		{ColonyID: 4, Number: "C0004", Owner: "Ada Quill"}, {ColonyID: 5, Number: "C0005", Held: "mites"}},
		Ties: []apiary.Parent{{ColonyID: 2, ParentID: 1, Kind: "split"}, {ColonyID: 3, ParentID: 1, Kind: "brood given"}, {ColonyID: 4, ParentID: 2, Kind: "united"}, {ColonyID: 5, ParentID: 1, Kind: "split"}}}
	v := drawDescent(d)
	words := map[string]string{}
	marks := map[string]bool{}
	for _, r := range v.Rows {
		words[r.Number] = r.Words
		marks[r.Mark] = true
	}
	require.Equal(t, map[string]string{"C0001": "began about 1961", "C0002": "gone: ants; split", "C0003": "handed over to Ada Quill; brood given", "C0004": "of Ada Quill; united", "C0005": "held back: mites; split"}, words)
	require.Len(t, marks, 5)
	require.Equal(t, "full circle: lives here; triangle: held back; square: handed over; ring: another's; cross: gone; full line: split; broken line: brood given; double line: united", strings.Join(v.Marks, "; "))
	require.Equal(t, "2 more of the kin are in the book; their own pages show them.", v.LeftOut)
}
