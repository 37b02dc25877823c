package cutting

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
)

// oddDay is a day unlike the usual ones: of one kind of difficulty each. Our own
// invention, no source.
type oddDay struct {
	name string
	make func(r *rand.Rand) In
}

func between(r *rand.Rand, low, high int) int { return low + r.IntN(high-low+1) }

// parts adds kinds of low to high mm, each so many times.
func addParts(r *rand.Rand, in *In, kinds, low, high, most int) {
	for i := range kinds {
		p := Part{ID: fmt.Sprintf("part %02d", i), LengthMM: float64(between(r, low, high)), Count: 1 + r.IntN(most)}
		if r.IntN(5) == 0 {
			p.LengthMM += float64(between(r, 1, 9)) / 10
		}
		in.Parts = append(in.Parts, p)
	}
}

func addBoards(r *rand.Rand, in *In, lengths, low, high, most int) {
	for i := range lengths {
		b := Board{ID: fmt.Sprintf("lot %02d", i), LengthMM: float64(50 * between(r, low/50, high/50)), Count: 1 + r.IntN(most)}
		if r.IntN(4) == 0 {
			b.Offcut, b.AgeDays = true, float64(between(r, 1, 300))
		}
		in.Boards = append(in.Boards, b)
	}
}

// supply brings the rack to a share of what the parts need, by the board, longest parts
// being possible on the longest board.
func supply(r *rand.Rand, in *In, low, high int) {
	need, room, longest := 0.0, 0.0, 0.0
	for _, b := range in.Boards {
		room += (b.LengthMM - 2*in.TrimMM) * float64(b.Count)
		longest = max(longest, b.LengthMM-2*in.TrimMM)
	}
	for i := range in.Parts {
		in.Parts[i].LengthMM = min(in.Parts[i].LengthMM, longest)
		need += (in.Parts[i].LengthMM + in.KerfMM) * float64(in.Parts[i].Count)
	}
	want := need * float64(between(r, low, high)) / 100
	for room < want {
		b := &in.Boards[r.IntN(len(in.Boards))]
		b.Count++
		room += b.LengthMM - 2*in.TrimMM
	}
}

func start(r *rand.Rand) In {
	return In{KerfMM: float64(between(r, 16, 60)) / 10, TrimMM: float64(5 * between(r, 0, 4))}
}

var oddDays = []oddDay{
	{"large parts", func(r *rand.Rand) In { // one to three on a board
		in := start(r)
		addParts(r, &in, between(r, 15, 40), 500, 1800, 6)
		addBoards(r, &in, between(r, 2, 12), 1800, 3600, 3)
		supply(r, &in, 130, 200)
		return in
	}},
	{"very large parts", func(r *rand.Rand) In { // one or two on a board
		in := start(r)
		addParts(r, &in, between(r, 15, 40), 900, 2400, 6)
		addBoards(r, &in, between(r, 2, 12), 2400, 4200, 3)
		supply(r, &in, 140, 220)
		return in
	}},
	{"large shortage", func(r *rand.Rand) In { // a third to four fifths of what is needed
		in := start(r)
		addParts(r, &in, between(r, 20, 60), 150, 600, 8)
		addBoards(r, &in, between(r, 2, 12), 900, 4800, 1)
		supply(r, &in, 35, 80)
		return in
	}},
	{"small shortage", func(r *rand.Rand) In { // about as much as is needed
		in := start(r)
		addParts(r, &in, between(r, 20, 60), 150, 600, 8)
		addBoards(r, &in, between(r, 2, 12), 900, 4800, 1)
		supply(r, &in, 92, 102)
		return in
	}},
	{"short of large parts", func(r *rand.Rand) In {
		in := start(r)
		addParts(r, &in, between(r, 15, 40), 500, 1800, 6)
		addBoards(r, &in, between(r, 2, 12), 1800, 3600, 1)
		supply(r, &in, 50, 110)
		return in
	}},
	{"many lengths, few of each", func(r *rand.Rand) In {
		in := start(r)
		addParts(r, &in, between(r, 20, 60), 150, 900, 8)
		addBoards(r, &in, between(r, 20, 60), 900, 4800, 2)
		supply(r, &in, 105, 160)
		return in
	}},
	{"costs", func(r *rand.Rand) In { // dear and cheap boards, not by their length
		in := start(r)
		addParts(r, &in, between(r, 20, 60), 150, 900, 8)
		addBoards(r, &in, between(r, 3, 14), 900, 4800, 4)
		supply(r, &in, 120, 220)
		for i := range in.Boards {
			rate := int64(between(r, 80, 220))
			in.Boards[i].Cost = NewCost(decimal.New(int64(in.Boards[i].LengthMM)*rate/1000, -2))
		}
		return in
	}},
	{"costs by length", func(r *rand.Rand) In { // a price a metre, whole cents
		in := start(r)
		addParts(r, &in, between(r, 20, 60), 150, 900, 8)
		addBoards(r, &in, between(r, 3, 14), 900, 4800, 4)
		supply(r, &in, 120, 220)
		rate := int64(between(r, 250, 900))
		for i := range in.Boards {
			in.Boards[i].Cost = NewCost(decimal.New(int64(in.Boards[i].LengthMM)*rate/1000, -2))
		}
		return in
	}},
}

func (o oddDay) in(seed uint64) In { return o.make(rand.New(rand.NewPCG(seed, 77))) }

// BenchmarkOddDays reports, of 50 days of each kind of difficulty, how many are proved
// within a second, the largest gap of the others, and the times.
func BenchmarkOddDays(b *testing.B) {
	for _, o := range oddDays {
		b.Run(o.name, func(b *testing.B) {
			for b.Loop() {
				var took []time.Duration
				proved, worst := 0, 0.0
				for seed := uint64(1); seed <= 50; seed++ {
					in := o.in(seed)
					started := time.Now()
					out, err := Plan(context.Background(), in)
					d := time.Since(started)
					require.NoError(b, err)
					took = append(took, d)
					gap := 0.0
					if out.Proved {
						proved++
					} else if bound := out.Bound.InexactFloat64(); bound > 0 {
						gap = (first(out).InexactFloat64() - bound) / bound * 100
						worst = max(worst, gap)
					}
					if os.Getenv("CUTTING_ROWS") != "" && (!out.Proved || d > 200*time.Millisecond) {
						b.Logf("%s %2d: kinds %d lots %d used %d of %v bound %s proved %v gap %.2f unplaced %d, %v", o.name, seed, len(in.Parts), len(in.Boards), out.BoardsUsed,
							first(out), out.Bound, out.Proved, gap, len(out.Unplaced), d.Round(time.Millisecond))
					}
				}
				slices.Sort(took)
				b.ReportMetric(float64(proved), "proved")
				b.ReportMetric(worst, "worst-gap-%")
				b.ReportMetric(float64(took[25].Microseconds())/1000, "median-ms")
				b.ReportMetric(float64(took[49].Microseconds())/1000, "max-ms")
				b.ReportMetric(0, "ns/op")
			}
		})
	}
}
