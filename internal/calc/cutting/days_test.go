package cutting

import (
	"fmt"
	"math/rand/v2"
)

// day generates one of the maker's days: 20 to 60 lengths of part, each wanted 1
// to 8 times, and 5 to 60 boards of 2 to 12 lengths in limited numbers; kerf 1.6
// to 6 mm in tenths, trim 0 to 20 mm.
//
// Parts are 90 to 1200 mm long, most of them near those of hive boxes (150 to 600
// mm), in whole millimetres, one in five in tenths. Boards are 900 to 4800 mm in
// steps of 50, the usable lengths of a rack; about one board in six is an offcut
// of 300 to 1500 mm. One of each part needs at most, and all of them about, 55 to
// 95 % of what lies on the rack. Our own estimate of a day, no source; seed 1 to 200 are the 200 days.
func day(seed uint64) In {
	r := rand.New(rand.NewPCG(seed, 20))
	between := func(low, high int) int { return low + r.IntN(high-low+1) }
	in := In{KerfMM: float64(between(16, 60)) / 10, TrimMM: float64(5 * between(0, 4))}
	kinds := between(20, 60)
	lengths := between(2, 12)
	boards := max(between(5, 60), lengths)
	longest := 0.0
	for i := range lengths {
		b := Board{ID: fmt.Sprintf("lot %02d", i), LengthMM: float64(50 * between(18, 96)), Count: 1}
		if r.IntN(6) == 0 && i > 0 {
			b.LengthMM, b.Offcut, b.AgeDays = float64(50*between(6, 30)), true, float64(between(1, 300))
		}
		in.Boards = append(in.Boards, b)
		longest = max(longest, b.LengthMM-2*in.TrimMM)
	}
	need := 0.0
	for i := range kinds {
		p := Part{ID: fmt.Sprintf("part %02d", i), Count: 1}
		switch r.IntN(8) {
		case 0:
			p.LengthMM = float64(between(90, 1200))
		default:
			p.LengthMM = float64(between(150, 600))
		}
		if r.IntN(5) == 0 {
			p.LengthMM += float64(between(1, 9)) / 10
		}
		p.LengthMM = min(p.LengthMM, longest)
		in.Parts = append(in.Parts, p)
		need += p.LengthMM + in.KerfMM
	}
	room, share := 0.0, float64(between(55, 95))/100
	for _, b := range in.Boards {
		room += b.LengthMM - 2*in.TrimMM
	}
	for n := lengths; n < boards || room*share < need; n++ {
		b := &in.Boards[r.IntN(lengths)]
		b.Count++
		room += b.LengthMM - 2*in.TrimMM
	}
	room = room*share - need
	for range kinds * 7 {
		p := &in.Parts[r.IntN(kinds)]
		if p.Count < 8 && room > p.LengthMM+in.KerfMM {
			p.Count++
			room -= p.LengthMM + in.KerfMM
		}
	}
	return in
}
