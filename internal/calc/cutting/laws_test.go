package cutting

import (
	"context"
	"encoding/json"
	"errors"
	"slices"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"kerfbook/internal/calc/contract"
)

// drawIn draws a case of up to about 40 pieces, with a work limit and a time
// limit that is never met.
func drawIn(t *rapid.T) In {
	in := In{KerfMM: float64(rapid.IntRange(0, 60).Draw(t, "kerf")) / 10, TrimMM: float64(rapid.IntRange(0, 20).Draw(t, "trim"))}
	work, never := 3_000_000, maxTimeMS
	in.WorkLimit, in.TimeLimitMS = &work, &never
	costs := rapid.Bool().Draw(t, "costs")
	for i := range rapid.IntRange(1, 5).Draw(t, "lots") {
		b := Board{ID: string(rune('A' + i)), LengthMM: float64(rapid.IntRange(500, 3000).Draw(t, "board")), Count: rapid.IntRange(1, 6).Draw(t, "boards")}
		if b.Offcut = rapid.Bool().Draw(t, "offcut"); b.Offcut {
			b.AgeDays = float64(rapid.IntRange(0, 400).Draw(t, "age"))
		}
		if costs {
			b.Cost = NewCost(decimal.New(int64(rapid.IntRange(0, 4000).Draw(t, "cost")), -2))
		}
		in.Boards = append(in.Boards, b)
	}
	for i := range rapid.IntRange(1, 8).Draw(t, "kinds") {
		in.Parts = append(in.Parts, Part{ID: string(rune('p' + i)),
			LengthMM: float64(rapid.IntRange(600, 4600).Draw(t, "part")) / 10, Count: rapid.IntRange(1, 5).Draw(t, "count")})
	}
	return in
}

func plan(t *rapid.T, in In) Out {
	out, err := Plan(context.Background(), in)
	require.NoError(t, err)
	require.NoError(t, Check(in, out))
	return out
}

// first is the first objective of a plan.
func first(o Out) decimal.Decimal {
	switch o.BoundUnit {
	case UnitCost:
		return o.Cost.Decimal
	case UnitBoards:
		return decimal.NewFromInt(int64(o.BoardsUsed))
	}
	return decimal.NewFromFloat(o.LengthUsedMM)
}

// TestLengthsBalance: on each board parts + kerfs + trim + offcut = board, where
// the last kerf may be cut short by the board's end; nothing is lost.
func TestLengthsBalance(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawIn(t)
		out := plan(t, in)
		cut := map[string]int{}
		used := map[string]int{}
		for _, l := range out.Layouts {
			length, pieces := 0.0, 0
			for _, c := range l.Cuts {
				i := slices.IndexFunc(in.Parts, func(p Part) bool { return p.ID == c.Part })
				length += in.Parts[i].LengthMM * float64(c.Count)
				pieces += c.Count
				cut[c.Part] += c.Count * l.Times
			}
			i := slices.IndexFunc(in.Boards, func(b Board) bool { return b.ID == l.Board })
			used[l.Board] += l.Times
			gone := in.Boards[i].LengthMM - length - 2*in.TrimMM - l.OffcutMM - float64(pieces-1)*in.KerfMM
			require.GreaterOrEqual(t, gone, -1e-6, "what the last cut takes")
			require.LessOrEqual(t, gone, in.KerfMM+1e-6)
			if l.OffcutMM > 0 {
				require.InDelta(t, in.KerfMM, gone, 1e-6)
			}
		}
		for _, u := range out.Unplaced {
			cut[u.Part] += u.Count
		}
		for _, p := range in.Parts {
			require.Equal(t, p.Count, cut[p.ID])
		}
		for _, b := range in.Boards {
			require.LessOrEqual(t, used[b.ID], b.Count)
		}
		require.False(t, out.Bound.GreaterThan(first(out)), "bound %s above %s", out.Bound, first(out))
		require.Equal(t, out.Proved && len(out.Unplaced) == 0, out.Bound.Equal(first(out)) && len(out.Unplaced) == 0)
	})
}

// TestOneMorePartNeverNeedsLess compares proved plans that place everything.
func TestOneMorePartNeverNeedsLess(t *testing.T) {
	t.Parallel()
	compared := 0
	rapid.Check(t, func(t *rapid.T) {
		in := drawIn(t)
		more := in
		more.Parts = slices.Clone(in.Parts)
		i := rapid.IntRange(0, len(in.Parts)-1).Draw(t, "which")
		more.Parts[i].Count++
		a, b := plan(t, in), plan(t, more)
		if len(b.Unplaced) > 0 {
			return
		}
		require.False(t, a.Bound.GreaterThan(first(b)), "the bound for fewer parts %s lies above a plan for more %s", a.Bound, first(b))
		if a.Proved {
			require.Empty(t, a.Unplaced)
			require.False(t, first(b).LessThan(first(a)), "%s for fewer parts, %s for more", first(a), first(b))
			compared++
		}
	})
	require.Positive(t, compared)
}

func TestOrderOfInputChangesNothing(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawIn(t)
		other := in
		other.Boards = rapid.Permutation(in.Boards).Draw(t, "boards")
		other.Parts = rapid.Permutation(in.Parts).Draw(t, "parts")
		a, err := json.Marshal(plan(t, in))
		require.NoError(t, err)
		b, err := json.Marshal(plan(t, other))
		require.NoError(t, err)
		require.Equal(t, string(a), string(b))
	})
}

// TestKerfIsLength: a kerf of k is the same as parts and boards that are k longer.
func TestKerfIsLength(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawIn(t)
		for i := range in.Boards {
			in.Boards[i].LengthMM = in.Boards[0].LengthMM // count boards: their lengths change
			in.Boards[i].Cost = nil
		}
		longer := in
		longer.KerfMM = 0
		longer.Boards, longer.Parts = slices.Clone(in.Boards), slices.Clone(in.Parts)
		for i := range longer.Boards {
			longer.Boards[i].LengthMM += in.KerfMM
		}
		for i := range longer.Parts {
			longer.Parts[i].LengthMM += in.KerfMM
		}
		a, b := plan(t, in), plan(t, longer)
		if len(a.Unplaced)+len(b.Unplaced) == 0 {
			require.Equal(t, a.BoardsUsed, b.BoardsUsed)
			require.Equal(t, a.Bound.String(), b.Bound.String())
		}
	})
}

// FuzzTopic: whatever is typed, the topic answers with a checked plan or with
// what is wrong, soon.
func FuzzTopic(f *testing.F) {
	topic := Topics()[0]
	f.Add(topic.Example)
	f.Add(`{"kerf_mm":0,"boards":[],"parts":[{"id":"p","length_mm":1,"count":1}]}`)
	f.Add(`{"kerf_mm":3,"trim_mm":5,"time_limit_ms":5,"boards":[{"id":"b","length_mm":1e6,"count":1000000,"cost":"0"}],"parts":[{"id":"p","length_mm":0.001,"count":9}]}`)
	f.Add(`{"kerf_mm":1,"boards":[{"id":"b","length_mm":900,"count":2,"cost":"1e9"},{"id":"c","length_mm":70.125,"count":2,"cost":"0.0001"}],"parts":[{"id":"p","length_mm":33.333,"count":99},{"id":"q","length_mm":7,"count":9}]}`)
	f.Fuzz(func(t *testing.T, text string) {
		var in In
		if contract.Decode([]byte(text), &in) == nil {
			short := 20
			in.TimeLimitMS = &short
			out, err := Plan(context.Background(), in)
			if err == nil {
				require.NoError(t, Check(in, out))
				return
			}
			var bad *contract.Error
			require.True(t, errors.As(err, &bad), "%v", err)
		}
	})
}
