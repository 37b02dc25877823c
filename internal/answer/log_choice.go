package answer

import (
	"context"
	"fmt"
	"math"
)

// LogChoice is one way to cut a log to length before it is milled.
type LogChoice struct {
	Kind       string  // whole, trim or cross-cut
	CutMM      float64 // from the butt; 0 for the whole log
	Words      string
	Pieces     []LogPiece // from the butt
	ValueMinor int64      // of what the mill can take, by experience
	M3         float64    // boards of that
	Best       bool
	value      float64
}

// LogPiece is a length of a log as it would lie on the mill.
type LogPiece struct {
	SmallEndMM float64
	LargeEndMM float64
	LengthMM   float64
	SweepMM    float64
	FitsMill   bool
	Boards     int
	ValueMinor int64
	M3         float64
}

// cutStepMM is to what a cut's place is rounded; nobody marks a log more finely.
const cutStepMM = 10

// sweepAsksMM is the sweep from which cross-cutting is tried although the log fits.
const sweepAsksMM = 10

// part gives the length of a stem from one place to another, both from the butt. The sweep
// of a part of an arc goes with the square of its length.
func (s stem) part(fromMM, toMM float64) stem {
	through := func(at float64) float64 { return s.largeMM - (s.largeMM-s.smallMM)*at/s.lengthMM }
	share := (toMM - fromMM) / s.lengthMM
	return stem{smallMM: through(toMM), largeMM: through(fromMM), lengthMM: toMM - fromMM, sweepMM: s.sweepMM * share * share}
}

// choices tries the log whole, trimmed so that it fits, and cross-cut, and marks what is
// worth the most. Nothing where the log fits and is straight.
func (y LogYield) choices(ctx context.Context) ([]LogChoice, error) {
	s := wholeLog(y.Log)
	if y.Out.FitsMill && s.sweepMM < sweepAsksMM {
		return nil, nil
	}
	cuts := y.cuts(s)
	var out []LogChoice
	for _, c := range cuts {
		if err := y.fill(ctx, s, &c); err != nil {
			return nil, err
		}
		out = append(out, c)
	}
	best := 0
	for i, c := range out {
		if c.value > out[best].value+1e-9 {
			best = i
		}
	}
	out[best].Best = out[best].value > 0
	return out, nil
}

// cuts are the choices without their figures.
func (y LogYield) cuts(s stem) []LogChoice {
	out := []LogChoice{{Kind: "whole", Words: "Leave it whole"}}
	short := float64(y.ShortestMM)
	halves := math.Round(s.lengthMM/2/cutStepMM) * cutStepMM
	if !y.Out.FitsMill {
		out[0].Words = "Leave it whole: too thick for the mill"
		if y.Out.TrimMM != nil {
			off := math.Ceil(*y.Out.TrimMM/cutStepMM) * cutStepMM
			if s.lengthMM-off >= short {
				out = append(out, LogChoice{Kind: "trim", CutMM: off, Words: fmt.Sprintf("Cut %.0f mm off the butt; the rest fits", off)})
			}
		}
	}
	if halves >= short && s.lengthMM-halves >= short {
		out = append(out, LogChoice{Kind: "cross-cut", CutMM: halves, Words: fmt.Sprintf("Cross-cut in the middle, %.0f mm from the butt", halves)})
	}
	return out
}

// fill lays out the pieces of a choice.
func (y LogYield) fill(ctx context.Context, s stem, c *LogChoice) error {
	parts := []stem{s}
	switch c.Kind {
	case "trim":
		parts = []stem{s.part(c.CutMM, s.lengthMM)}
	case "cross-cut":
		parts = []stem{s.part(0, c.CutMM), s.part(c.CutMM, s.lengthMM)}
	}
	for _, part := range parts {
		p := LogPiece{SmallEndMM: part.smallMM, LargeEndMM: part.largeMM, LengthMM: part.lengthMM, SweepMM: part.sweepMM, FitsMill: part.largeMM <= y.MillLimitMM+1e-6}
		if p.FitsMill {
			o := y.Out
			if c.Kind != "whole" {
				var err error
				if o, err = y.pattern(ctx, part); err != nil {
					return err
				}
			}
			ratio := y.Yields.Believed()
			p.Boards, p.M3 = len(o.Layout), o.SawnVolumeM3*ratio
			c.value += o.Value
			if y.Valued {
				p.ValueMinor = int64(math.Round(o.Value * ratio))
			}
		}
		c.Pieces = append(c.Pieces, p)
		c.ValueMinor += p.ValueMinor
		c.M3 += p.M3
	}
	return nil
}
