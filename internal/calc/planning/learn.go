package planning

import (
	"math"
	"slices"
)

// A build gone wrong, through a clock that nobody stopped or a saw that broke, counts no
// more than this many scales away from the middle one; the scale is not taken for less than
// what is believed beforehand. So one that took two and a half times as long counts in full:
// where every seventh does, dates must leave room for it. Our choice, tried out on made-up
// workshops.
const clipScales = 3.0

// clipped draws logs that lie far from the middle one in to where they still count.
//
// Source: winsorizing at the median and the median deviation, scaled by 1.4826 to be that
// of a normal law, P. J. Huber, Robust Statistics, 1981, sections 1.4 and 5.1; from memory.
func clipped(logs []float64) []float64 {
	if len(logs) == 0 {
		return nil
	}
	mid := middle(logs)
	away := make([]float64, len(logs))
	for i, x := range logs {
		away[i] = math.Abs(x - mid)
	}
	most := clipScales * max(priorScale, 1.4826*middle(away))
	out := make([]float64, len(logs))
	for i, x := range logs {
		out[i] = min(max(x, mid-most), mid+most)
	}
	return out
}

// middle is the median; that of an even number is the mean of the middle two.
func middle(list []float64) float64 {
	s := slices.Sorted(slices.Values(list))
	return (s[(len(s)-1)/2] + s[len(s)/2]) / 2
}
