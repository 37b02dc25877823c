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
	Layout       []Laid    `json:"layout"` // from the top row down, each from left to right
	SawHeightsMM []float64 `json:"saw_heights_mm"`
	Value        float64   `json:"value"`
	RecoveryPct  float64   `json:"recovery_pct"`
	SawdustPct   float64   `json:"sawdust_pct"`
	SlabPct      float64   `json:"slab_pct"` // slabs, edgings and ends
	LogVolumeM3  float64   `json:"log_volume_m3"`
	SawnVolumeM3 float64   `json:"sawn_volume_m3"`
	FitsMill     bool      `json:"fits_mill"`
	TrimMM       *float64  `json:"trim_mm,omitempty"` // off the butt's end, so that the rest fits
	GridMM       float64   `json:"grid_mm"`           // sizes, kerf and places were taken up to whole steps of this
}

const (
	mostSizes   = 60
	smallestMM  = 5.0 // side of a board
	lengthSteps = 10  // in a mm: lengths are cut down to whole ones
	metreMM     = 1000.0
	percent     = 100.0
	roundingMM  = 1e-6 // what adding up in floating point may cost a corner
	sawnTooWide = 2000.0
)

// Pattern gives the pattern of greatest value in the family below, exactly.
//
// The log is a truncated cone; boards lie parallel to its axis with the butt
// ends flush, each as long as the cone allows it at its own place (full length
// inside the small end, shorter towards the bark), wholly inside: no wane.
// The family: boards lie in level rows; a row is as high as the thickness or the
// width of its boards, which may differ along the row, and rows may differ in
// one log. Neighbours in a row, and neighbouring rows, are one kerf apart. Rows
// are pushed up against each other and boards in a row likewise, towards the
// pith, but for the heart box; pushing inwards never costs value. What is free is
// where the innermost row lies and, in each row, the innermost board. Where all
// boards are as long as the log, rows are placed by 0.05 mm and
// boards in a row wherever they fit; where some may be shorter, both by the whole
// millimetre from the pith and centred. The answer is the best of all such
// patterns. Sizes and kerf count in steps of 0.05 mm, or 0.1; coarser ones, up to
// 2 mm, are taken for very large logs with many short sizes, and grid_mm says so. A round log gives the same in both directions of rows, so level rows
// speak for upright ones too. Not in the family: boards one behind the other, and
// rows that are split again in height.
//
// Sweep takes half of itself off both radii: the axis is laid midway, so that no
// part of the log strays from it by more. The mill limit does not change the
// pattern. Saw heights are those of the blade's lower side above the pith, from
// the top down. Bad input gives a *contract.Error. Method: dynamic programming
// over row heights and, in each row, over boards, with bounds that pass over
// rows which cannot belong to the best pattern; a 600 mm log with six sizes
// takes a few hundredths of a second. Own method.
func Pattern(ctx context.Context, in PatternIn) (PatternOut, error) {
	if err := in.check(); err != nil {
		return PatternOut{}, err
	}
	s := newStack(in)
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
		if in.SmallEndMM <= *in.MillLimitMM {
			off := in.LengthMM * (in.LargeEndMM - *in.MillLimitMM) / (in.LargeEndMM - in.SmallEndMM)
			out.TrimMM = &off
		}
	}
	return out
}
