package sawing

import (
	"context"
	"fmt"
	"math"

	"kerfbook/internal/calc/contract"
)

// BoardIn is a board size wanted, as sawn.
type BoardIn struct {
	ID          string   `json:"id" need:"yes"`
	WidthMM     float64  `json:"width_mm" need:"yes"`
	ThicknessMM float64  `json:"thickness_mm" need:"yes"`
	Value       float64  `json:"value" need:"yes"`        // for each metre of board, 0 or more
	MinLengthMM *float64 `json:"min_length_mm,omitempty"` // shortest that is of use; the log's length when left out
}

// PatternIn is a log and what is wanted from it.
type PatternIn struct {
	SmallEndMM  float64   `json:"small_end_mm" need:"yes"` // diameter under bark, 20 to 2000
	LargeEndMM  float64   `json:"large_end_mm" need:"yes"` // diameter under bark, up to 3000
	LengthMM    float64   `json:"length_mm" need:"yes"`    // 100 to 50 000
	KerfMM      float64   `json:"kerf_mm" need:"yes"`      // 0 to 50
	MillLimitMM *float64  `json:"mill_limit_mm,omitempty"` // largest diameter the mill takes
	SweepMM     float64   `json:"sweep_mm,omitempty"`      // greatest distance of the middle line from straight
	HeartBoxMM  float64   `json:"heart_box_mm,omitempty"`  // side of a square at the pith that no board may enter
	Boards      []BoardIn `json:"boards" need:"yes"`       // 1 to 60 sizes
}

// Count is how many boards of a size the pattern gives.
type Count struct {
	ID    string `json:"id"`
	Count int    `json:"count"`
}

// Laid is one board in the end of the log, as it lies. Its lower left corner is
// at X, Y from the pith.
type Laid struct {
	ID          string  `json:"id"`
	XMM         float64 `json:"x_mm"`
	YMM         float64 `json:"y_mm"`
	WidthMM     float64 `json:"width_mm"`     // along x
	ThicknessMM float64 `json:"thickness_mm"` // along y
	LengthMM    float64 `json:"length_mm"`
	FromButtMM  float64 `json:"from_butt_mm"` // 0: starts at the large end
}

// PatternOut is the best pattern and what comes of the log.
type PatternOut struct {
	Boards       []Count   `json:"boards"` // every size, in the order asked
	Layout       []Laid    `json:"layout"` // from the top row down, each from left to right, a lane from the butt
	SawHeightsMM []float64 `json:"saw_heights_mm"`
	Value        float64   `json:"value"`
	RecoveryPct  float64   `json:"recovery_pct"`
	SawdustPct   float64   `json:"sawdust_pct"`
	SlabPct      float64   `json:"slab_pct"` // slabs, edgings and ends
	LogVolumeM3  float64   `json:"log_volume_m3"`
	SawnVolumeM3 float64   `json:"sawn_volume_m3"`
	FitsMill     bool      `json:"fits_mill"`
	TrimMM       *float64  `json:"trim_mm,omitempty"`      // off the butt's length, so that the rest fits; none when the small end is too thick
	TooThickMM   *float64  `json:"too_thick_mm,omitempty"` // or off the butt's diameter
	GridMM       float64   `json:"grid_mm"`                // sizes, kerf and places were taken up to whole steps of this
}

const (
	mostSizes   = 60
	smallestMM  = 5.0  // side of a board
	lengthSteps = 1000 // in a mm: lengths that the cone allows are cut down to whole ones
	dust        = 1e6  // in a mm: what is told apart in the end
	metreMM     = 1000.0
	percent     = 100.0
	roundingMM  = 1e-6 // what adding up in floating point may cost a corner
	sawnTooWide = 2000.0
)

// Pattern gives the pattern of greatest value in the family below, exactly.
//
// The log is a truncated cone; boards lie parallel to its axis, wholly inside: no
// wane. The family:
//
//   - Rows. The log is sawn into level rows along its whole length. A row is as
//     high as the thickness or the width of its boards; rows may differ in one
//     log. A round log gives the same upright, so level rows speak for both.
//   - Lanes. A row is ripped into lanes along its whole length; a row's boards may
//     differ in width, and lie flat or on edge. At the butt of a lane stands a
//     board as wide as the lane.
//   - Behind it may stand one narrower board, or two abreast, which together are
//     worth no more for a metre than the board before them; behind each of these
//     again, in its own strip, and so on. Cross-cuts cost nothing. (Two abreast are
//     left out where more than 16 sizes make one height of row.) The same size
//     twice in a lane would be worth no more than one long board.
//   - Lengths are whatever is best between the least length and the cone.
//   - Places. Rows, lanes, and what stands behind a board, are pushed towards the
//     pith, but for the heart box. What lies over the pith is free: rows, and the
//     innermost board or cut of each row, are placed with either edge or the middle
//     on a whole millimetre from the pith, and centred. Patterns of nothing but
//     full-length boards are tried by 0.05 mm as well. Behind a board over the pith,
//     the board, or two abreast together, or one of the two, or the cut between
//     them, is as near to the pith as the lane allows.
//
// Not in the family: logs or rows cross-cut before they are ripped, rows split again
// in height. Sizes and kerf count in steps of 0.05 mm, or 0.1; coarser ones, up to
// 2 mm, are taken for very large logs with many short sizes, and grid_mm says so.
// Lengths that the cone allows are cut down to 0.001 mm. doc.go tells why this is exact.
//
// Sweep takes half of itself off both radii: the axis is laid midway, so that no
// part of the log strays from it by more. The heart box keeps its size. A size of
// no value is never laid. The mill limit does not change the pattern: trim_mm is
// what to cross-cut from the butt, too_thick_mm what to hew off its diameter instead.
// Saw heights are those of the blade's lower side above the pith, from the top
// down. Bad input gives a *contract.Error. Method: dynamic programming over row
// heights, in each row over lanes, and in each lane over the ends of its boards,
// with bounds that pass over what cannot belong to the best pattern; a 600 mm log
// with six sizes takes a few hundredths of a second. Own method.
func Pattern(ctx context.Context, in PatternIn) (PatternOut, error) {
	if err := in.check(); err != nil {
		return PatternOut{}, err
	}
	out, err := in.best(ctx, in)
	if err != nil || !in.shorter() {
		return out, err
	}
	whole, err := in.best(ctx, in.fullLength())
	if whole.Value > out.Value {
		out = whole
	}
	return out, err
}

// best gives the best pattern for what is asked, and reports on it as for in.
func (in PatternIn) best(ctx context.Context, asked PatternIn) (PatternOut, error) {
	s := newStack(asked)
	layout, err := s.best(ctx)
	if err != nil {
		return PatternOut{}, fmt.Errorf("sawing pattern: %w", err)
	}
	if err := checkLayout(in, layout); err != nil {
		return PatternOut{}, fmt.Errorf("sawing pattern: %w", err)
	}
	out := in.report(layout)
	out.GridMM = s.row.tick
	return out, nil
}

// shorter tells whether a board may be shorter than the log.
func (in PatternIn) shorter() bool {
	for _, b := range in.Boards {
		if b.MinLengthMM != nil && *b.MinLengthMM < in.LengthMM {
			return true
		}
	}
	return false
}

// fullLength asks for the same boards, all as long as the log.
func (in PatternIn) fullLength() PatternIn {
	boards := make([]BoardIn, 0, len(in.Boards))
	for _, b := range in.Boards {
		if b.MinLengthMM == nil || *b.MinLengthMM <= in.LengthMM {
			b.MinLengthMM = nil
			boards = append(boards, b)
		}
	}
	in.Boards = boards
	return in
}

func (in PatternIn) check() error {
	var c contract.Checks
	c.Number("/small_end_mm", in.SmallEndMM, 20, sawnTooWide)
	c.Number("/large_end_mm", in.LargeEndMM, 20, 1.5*sawnTooWide)
	c.Number("/length_mm", in.LengthMM, 100, mostLogLengthMM)
	c.Number("/kerf_mm", in.KerfMM, 0, 50)
	if in.SmallEndMM > in.LargeEndMM {
		c.Add("/small_end_mm", "is larger than the large end: swap them, or look whether one is a girth")
	}
	if in.MillLimitMM != nil {
		c.Number("/mill_limit_mm", *in.MillLimitMM, 20, 10000)
	}
	if c.Number("/sweep_mm", in.SweepMM, 0, 10000) && in.SweepMM >= in.SmallEndMM {
		c.Add("/sweep_mm", "is as large as the small end: cross-cut the log first")
	}
	c.Number("/heart_box_mm", in.HeartBoxMM, 0, 10000)
	if n := len(in.Boards); n == 0 || n > mostSizes {
		c.Add("/boards", "give 1 to %d board sizes, not %d", mostSizes, n)
	}
	seen := map[string]bool{}
	for i, b := range in.Boards {
		at := fmt.Sprintf("/boards/%d", i)
		if b.ID == "" {
			c.Add(at+"/id", "every board size needs an id")
		} else if seen[b.ID] {
			c.Add(at+"/id", "the id %q stands twice in the list", b.ID)
		}
		seen[b.ID] = true
		c.Number(at+"/width_mm", b.WidthMM, smallestMM, 5000)
		c.Number(at+"/thickness_mm", b.ThicknessMM, smallestMM, 5000)
		c.Number(at+"/value", b.Value, 0, 1e9)
		if b.MinLengthMM != nil && c.Number(at+"/min_length_mm", *b.MinLengthMM, 0, mostLogLengthMM) && *b.MinLengthMM < 1 {
			c.Add(at+"/min_length_mm", "must be at least 1 mm")
		}
	}
	return c.Err()
}

// report adds up a layout.
func (in PatternIn) report(layout []Laid) PatternOut {
	out := PatternOut{Layout: layout, FitsMill: true, LogVolumeM3: ConeVolumeM3(in.LengthMM, in.SmallEndMM, in.LargeEndMM)}
	count := map[string]int{}
	each := map[string]float64{}
	for _, b := range in.Boards {
		each[b.ID] = b.Value
	}
	for _, l := range layout {
		count[l.ID]++
		out.Value += each[l.ID] * l.LengthMM / metreMM
		out.SawnVolumeM3 += l.WidthMM * l.ThicknessMM * l.LengthMM / mm3PerM3
	}
	for _, b := range in.Boards {
		out.Boards = append(out.Boards, Count{b.ID, count[b.ID]})
	}
	out.SawHeightsMM = sawHeights(layout, in.KerfMM)
	out.RecoveryPct = percent * out.SawnVolumeM3 / out.LogVolumeM3
	out.SawdustPct = percent * in.sawdustM3(out) / out.LogVolumeM3
	out.SlabPct = math.Max(0, percent-out.RecoveryPct-out.SawdustPct)
	if in.MillLimitMM != nil && in.LargeEndMM > *in.MillLimitMM {
		out.FitsMill = false
		over := in.LargeEndMM - *in.MillLimitMM
		out.TooThickMM = &over
		if in.SmallEndMM <= *in.MillLimitMM {
			off := in.LengthMM * (in.LargeEndMM - *in.MillLimitMM) / (in.LargeEndMM - in.SmallEndMM)
			out.TrimMM = &off
		}
	}
	return out
}
