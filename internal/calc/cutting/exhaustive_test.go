package cutting

import (
	"math/rand/v2"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/printed"
)

// slowBest tries every way of giving each piece to a board or to none, by plain
// recursion on tenths of a millimetre. It gives the greatest length placed, the
// most pieces among those, and the least of the first objective then.
type slowBest struct {
	kerf   int
	usable []int // of each single board
	price  []int
	pieces []int
	fill   []int // length on each board
	number []int // pieces on each board

	length, count, least int
	found                bool
}

func (b *slowBest) try(i, length, count int) {
	if i == len(b.pieces) {
		price := 0
		for k, n := range b.number {
			if n > 0 {
				price += b.price[k]
			}
		}
		better := !b.found || length > b.length || length == b.length && (count > b.count || count == b.count && price < b.least)
		if better {
			b.length, b.count, b.least, b.found = length, count, price, true
		}
		return
	}
	piece := b.pieces[i]
	for k := range b.usable {
		if b.fill[k]+piece+b.number[k]*b.kerf > b.usable[k] {
			continue
		}
		b.fill[k] += piece
		b.number[k]++
		b.try(i+1, length+piece, count+1)
		b.fill[k] -= piece
		b.number[k]--
	}
	b.try(i+1, length, count)
}

// tiny makes a case small enough to try everything: at most 6 pieces on at most 4
// boards.
func tiny(r *rand.Rand) In {
	in := In{KerfMM: float64(r.IntN(40)) / 10, TrimMM: float64(r.IntN(3)) * 5}
	costs := r.IntN(3) == 0
	for i := range 1 + r.IntN(3) {
		b := Board{ID: string(rune('A' + i)), LengthMM: float64(400 + 50*r.IntN(13)), Count: 1 + r.IntN(2)}
		if costs {
			b.Cost = NewCost(decimal.New(int64(100+r.IntN(300)), -2))
		}
		in.Boards = append(in.Boards, b)
	}
	for i := range 2 + r.IntN(2) {
		in.Parts = append(in.Parts, Part{ID: string(rune('p' + i)), LengthMM: float64(600+r.IntN(3200)) / 10, Count: 1 + r.IntN(2)})
	}
	return in
}

func tenths(mm float64) int { return int(mm*10 + 0.5) }

func slowAnswer(in In) *slowBest {
	b := &slowBest{kerf: tenths(in.KerfMM)}
	for _, bd := range in.Boards {
		for range bd.Count {
			b.usable = append(b.usable, tenths(bd.LengthMM-2*in.TrimMM))
			price := tenths(bd.LengthMM)
			if bd.Cost != nil {
				price = int(bd.Cost.Shift(2).IntPart())
			}
			b.price = append(b.price, price)
		}
	}
	for _, p := range in.Parts {
		for range p.Count {
			b.pieces = append(b.pieces, tenths(p.LengthMM))
		}
	}
	b.fill, b.number = make([]int, len(b.usable)), make([]int, len(b.usable))
	b.try(0, 0, 0)
	return b
}

func TestAgainstEveryPossibility(t *testing.T) {
	t.Parallel()
	r := rand.New(rand.NewPCG(7, 7))
	short, costs := 0, 0
	for range printed.Cases(400) {
		in := tiny(r)
		want := slowAnswer(in)
		out := run(t, in)
		length, count := 0, 0
		for _, l := range out.Layouts {
			for _, c := range l.Cuts {
				for _, p := range in.Parts {
					if p.ID == c.Part {
						length += tenths(p.LengthMM) * c.Count * l.Times
						count += c.Count * l.Times
					}
				}
			}
		}
		require.Equal(t, want.length, length, "length placed: %+v", in)
		require.Equal(t, want.count, count, "pieces placed: %+v", in)
		least := tenths(out.LengthUsedMM)
		if out.Cost != nil {
			least = int(out.Cost.Shift(2).IntPart())
			costs++
		}
		require.Equal(t, want.least, least, "%+v", in)
		require.True(t, out.Proved || len(out.Unplaced) > 0, "%+v", in)
		if len(out.Unplaced) > 0 {
			short++
		}
	}
	require.Greater(t, short, printed.Cases(20), "cases in which not everything fits")
	require.Greater(t, costs, printed.Cases(20))
}
