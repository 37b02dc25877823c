package paper

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// Pieces lie as the cutting contract says: one kerf between two parts, the
// offcut at the far end before the trim.
func TestPiecesOfABoard(t *testing.T) {
	t.Parallel()
	b := CutBoard{LengthMM: 1000, TrimMM: 10, Cuts: []Cut{{"a", 300}, {"b", 250}}, OffcutMM: 424, OffcutKept: true, OffcutName: "X-1"}
	got := b.pieces(3)
	require.Equal(t, []piece{
		{from: 10, to: 310, number: 1, name: "a", length: "300"},
		{from: 313, to: 563, number: 2, name: "b", length: "250"},
		{from: 566, to: 990, name: "keep X-1", length: "424"},
	}, got, "10 + 300 + 3 + 250 + 3 + 424 + 10 = 1000")
}

func TestScaleFor(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name         string
		w, h, rw, rh float64
		want         float64
		source       string
	}{
		{"by height", 440, 295, 99, 62, 5, "295/5 = 59, 440/5 = 88"},
		{"by width", 440, 100, 60, 62, 7.5, "440/7.5 = 58.7"},
		{"full size", 50, 40, 60, 62, 1, "fits as it is"},
		{"huge", 1e5, 10, 50, 50, 2000, "beyond the list: 1e5/50"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			require.InDelta(t, tt.want, scaleFor(tt.w, tt.h, tt.rw, tt.rh), 1e-9)
		})
	}
}

// A drawing that cannot be drawn leaves the paper whole.
func TestUndrawable(t *testing.T) {
	t.Parallel()
	for _, v := range []float64{0, -5, math.NaN(), math.Inf(1), 1e9} {
		d := testOrder()
		d.Drawing = &BoxDrawing{LengthMM: v, WidthMM: 200, Sections: []DrawnSection{{"floor", 20}}}
		pdf, err := Order(d)
		require.NoError(t, err)
		require.NotContains(t, pages(t, pdf)[len(pages(t, pdf))-1], "from the front")
		saw := testSawing()
		saw.SmallEndMM, saw.LargeEndMM = v, v
		_, err = Sawing(saw)
		require.NoError(t, err)
	}
}

func TestSpell(t *testing.T) {
	t.Parallel()
	for in, want := range map[float64]string{90: "90 minutes", 720: "12 hours", 1440: "24 hours", 14400: "10 days"} {
		require.Equal(t, want, spell(in))
	}
}
