package cutting

import "math/bits"

// filler finds, for one board, the parts that fill it best. It keeps its tables
// between calls.
type filler struct {
	layers [][]uint64
	layer  []int // kind of each layer
}

// Tables larger than this are made coarser: sizes rounded up, room down, so that
// what is found still fits.
const (
	maxTableWords = 1 << 21
	maxTableBits  = 1 << 17
)

// fullest gives the cuts with the greatest sum of sizes that room holds, taking
// among equals the one with the longest parts. avail says how many of each kind
// there are; with must >= 0 one of that kind is taken first.
//
// When the effort ends meanwhile, it fills the longest part first.
func (f *filler) fullest(m *model, e *effort, room int, avail []int, must int) []cut {
	if e.over {
		return firstFit(m, room, avail)
	}
	whole := room
	taken := make([]int, len(m.kinds))
	if must >= 0 {
		room -= m.kinds[must].size
		taken[must] = 1
	}
	step := f.coarseness(m, room, avail, taken)
	width := room/step + 1
	words := (width + 63) / 64
	f.layer = f.layer[:0]
	f.reset(0, words)
	f.layers[0][0] = 1
	n := 1
	// Rising size: the way back meets the longest parts first.
	for k := len(m.kinds) - 1; k >= 0; k-- {
		size := m.kinds[k].size
		if size > room {
			break
		}
		for c := min(avail[k]-taken[k], room/size); c > 0; c-- {
			f.reset(n, words)
			shiftOr(f.layers[n], f.layers[n-1], ceilDiv(size, step))
			f.layer = append(f.layer, k)
			n++
			if !e.spend(words) {
				return firstFit(m, whole, avail)
			}
		}
	}
	at := highest(f.layers[n-1], width)
	for i := n - 1; i > 0; i-- {
		size := ceilDiv(m.kinds[f.layer[i-1]].size, step)
		if at >= size && has(f.layers[i-1], at-size) {
			at -= size
			taken[f.layer[i-1]]++
		}
	}
	return cutsOf(taken)
}

// coarseness is 1 where the tables are small enough.
func (f *filler) coarseness(m *model, room int, avail, taken []int) int {
	layers := 1
	for k, kd := range m.kinds {
		layers += min(avail[k]-taken[k], room/kd.size)
	}
	step := room/maxTableBits + 1
	for layers*(room/step/64+1) > maxTableWords {
		step *= 2
	}
	return step
}

func (f *filler) reset(i, words int) {
	for len(f.layers) <= i {
		f.layers = append(f.layers, nil)
	}
	if cap(f.layers[i]) < words {
		f.layers[i] = make([]uint64, words)
	}
	f.layers[i] = f.layers[i][:words]
	if i == 0 {
		clear(f.layers[i])
	}
}

// shiftOr sets dst to src | src<<by.
func shiftOr(dst, src []uint64, by int) {
	w, b := by/64, uint(by%64)
	copy(dst, src[:min(w, len(src))])
	for i := len(src) - 1; i >= w; i-- {
		v := src[i-w] << b
		if b > 0 && i > w {
			v |= src[i-w-1] >> (64 - b)
		}
		dst[i] = src[i] | v
	}
}

// highest is the largest number below width in the set.
func highest(set []uint64, width int) int {
	for i := min(len(set)-1, (width-1)/64); i >= 0; i-- {
		w := set[i]
		if rest := width - i*64; rest < 64 {
			w &= 1<<uint(rest) - 1
		}
		if w != 0 {
			return i*64 + 63 - bits.LeadingZeros64(w)
		}
	}
	return 0
}

func has(set []uint64, i int) bool { return set[i/64]>>(uint(i)%64)&1 == 1 }

func ceilDiv(a, b int) int { return (a + b - 1) / b }

func cutsOf(taken []int) []cut {
	var cuts []cut
	for k, n := range taken {
		if n > 0 {
			cuts = append(cuts, cut{k, n})
		}
	}
	return cuts
}

// firstFit fills room with the longest part that still fits, again and again.
func firstFit(m *model, room int, avail []int) []cut {
	var cuts []cut
	for k, kd := range m.kinds {
		if n := min(avail[k], room/kd.size); n > 0 {
			cuts = append(cuts, cut{k, n})
			room -= n * kd.size
		}
	}
	return cuts
}

func (m *model) load(cuts []cut) int {
	sum := 0
	for _, c := range cuts {
		sum += c.count * m.kinds[c.kind].size
	}
	return sum
}
