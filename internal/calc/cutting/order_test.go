package cutting

import (
	"cmp"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/printed"
)

// rank is a plan by all that is minimised, in the order of the contract; smaller is
// better at each place: price, boards, offcuts left lying (an old one counts a little
// more), different layouts, and how much the longest kept offcut falls short.
type rank [5]float64

func (r rank) compare(o rank) int { return slices.Compare(r[:], o[:]) }

// slowOrder tries every way of giving each piece to a board, by plain recursion, and
// keeps the best rank of those that place everything.
type slowOrder struct {
	in     In
	boards []Board // single ones
	on     [][]int // parts on each, by number of the part
	best   rank
	found  bool
}

func (s *slowOrder) offcut(b int) (int, bool) {
	left, kerf := tenths(s.boards[b].LengthMM-2*s.in.TrimMM), tenths(s.in.KerfMM)
	for _, p := range s.on[b] {
		left -= tenths(s.in.Parts[p].LengthMM) + kerf
	}
	return max(0, left), left >= -kerf
}

func (s *slowOrder) try(part, n int) {
	if part == len(s.in.Parts) {
		if r := s.rank(); !s.found || r.compare(s.best) < 0 {
			s.best, s.found = r, true
		}
		return
	}
	if n == s.in.Parts[part].Count {
		s.try(part+1, 0)
		return
	}
	for b := range s.boards {
		s.on[b] = append(s.on[b], part)
		if _, fits := s.offcut(b); fits {
			s.try(part, n+1)
		}
		s.on[b] = s.on[b][:len(s.on[b])-1]
	}
}

func (s *slowOrder) rank() rank {
	var r rank
	layouts := map[string]bool{}
	longest := 0
	for b, on := range s.on {
		board := s.boards[b]
		if len(on) == 0 {
			if board.Offcut {
				r[2] += 1 + 1e-7*board.AgeDays
			}
			continue
		}
		price := board.LengthMM
		if board.Cost != nil {
			price = board.Cost.InexactFloat64()
		}
		r[0] += price
		r[1]++
		layouts[fmt.Sprint(board.LengthMM, on)] = true
		if left, _ := s.offcut(b); left >= tenths(*s.in.KeepOffcutMM) {
			longest = max(longest, left)
		}
	}
	r[3], r[4] = float64(len(layouts)), -float64(longest)
	return r
}

// rankOf is the rank of a plan that was given.
func rankOf(in In, out Out) rank {
	r := rank{out.LengthUsedMM, float64(out.BoardsUsed), 0, 0, -float64(tenths(out.KeptOffcutMM))}
	if out.Cost != nil {
		r[0] = out.Cost.InexactFloat64()
	}
	used := map[string]int{}
	layouts := map[string]bool{}
	for _, l := range out.Layouts {
		used[l.Board] += l.Times
		at := slices.IndexFunc(in.Boards, func(b Board) bool { return b.ID == l.Board })
		cuts := slices.Clone(l.Cuts)
		slices.SortFunc(cuts, func(a, b PartCount) int { return cmp.Compare(a.Part, b.Part) })
		layouts[fmt.Sprint(in.Boards[at].LengthMM, cuts)] = true
	}
	for _, b := range in.Boards {
		if b.Offcut {
			r[2] += float64(b.Count-used[b.ID]) * (1 + 1e-7*b.AgeDays)
		}
	}
	r[3] = float64(len(layouts))
	return r
}

// TestOrderOfWhatIsMinimised compares small cases with every possibility, place by place.
// The price is proved; what comes after it is done with reasonable effort, and that is
// how often it must be right.
func TestOrderOfWhatIsMinimised(t *testing.T) {
	t.Parallel()
	r := rand.New(rand.NewPCG(11, 4))
	names := []string{"price", "boards", "offcuts", "layouts", "kept offcut"}
	right, cases := [5]int{}, 0
	var first [5]string // that was not the best
	for cases < printed.Cases(400) {
		in := tiny(r)
		keep := float64(r.IntN(200))
		in.KeepOffcutMM = &keep
		for i := range in.Boards {
			in.Boards[i].LengthMM = float64(500 + 100*r.IntN(5))
			if r.IntN(2) == 0 {
				in.Boards[i].Offcut, in.Boards[i].AgeDays = true, float64(1+r.IntN(90))
			}
		}
		s := &slowOrder{in: in}
		for _, b := range in.Boards {
			for range b.Count {
				s.boards = append(s.boards, b)
			}
		}
		s.on = make([][]int, len(s.boards))
		if refused(in) {
			continue
		}
		if s.try(0, 0); !s.found {
			continue
		}
		cases++
		out := run(t, in)
		require.Empty(t, out.Unplaced, "%+v", in)
		got := rankOf(in, out)
		for i := range got {
			if cmp.Compare(got[i], s.best[i]-1e-9) >= 0 && got[i] <= s.best[i]+1e-9 {
				right[i]++
				continue
			}
			if first[i] == "" {
				first[i] = fmt.Sprintf("%v, best %v: %+v", got, s.best, in)
			}
			break // places after it are no longer comparable
		}
	}
	t.Log(strings.Join(names, ", "), right, "of", cases)
	require.Equal(t, cases, right[0], first[0])
	require.Equal(t, cases, right[1], first[1])
	require.Equal(t, cases, right[2], first[2])
	require.GreaterOrEqual(t, right[3], cases*99/100, first[3])
	require.GreaterOrEqual(t, right[4], cases*97/100, first[4])
}

// refused reports a case that no board is long enough for.
func refused(in In) bool { return validate(in) != nil }
