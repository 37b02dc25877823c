package hive_test

import (
	"context"
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/contract"
	"kerfbook/internal/calc/hive"
)

// TestReadyModels: each is sound, holds what keepers call a whole box (5 to 10 l,
// source: testdata/facts.csv), stands up, and weighs what one person lifts.
func TestReadyModels(t *testing.T) {
	t.Parallel()
	ready := hive.Ready()
	require.GreaterOrEqual(t, len(ready), 3)
	for _, r := range ready {
		t.Run(r.Name, func(t *testing.T) {
			t.Parallel()
			out := work(t, hive.HiveIn{Model: r.Model})
			require.True(t, out.InnerVolumeL >= 5 && out.InnerVolumeL <= 10, "%g l", out.InnerVolumeL)
			require.Less(t, out.FullMassKg, 25.0)
			require.Len(t, out.Parts, len(r.Model.Parts))
			for _, p := range r.Model.Parts {
				require.NotEmpty(t, p.Section, "%s", p.ID)
			}
			walls(t, r.Model, out)
		})
	}
	require.Equal(t, ready[0].Model.Fit, ready[1].Model.Fit, "they say that they interchange")
}

// walls checks that the four boards round each tier close: two sides over two ends.
func walls(t *testing.T, m hive.Model, out hive.HiveOut) {
	t.Helper()
	by := map[string]hive.CutPart{}
	for _, p := range out.Parts {
		by[p.ID] = p
	}
	for _, s := range m.Sections {
		if s.Kind != "brood" && s.Kind != "honey" {
			continue
		}
		side, end := by[s.ID+"-side"], by[s.ID+"-end"]
		require.Equal(t, out.OutsideLengthMM, side.LengthMM)
		require.Equal(t, out.InnerWidthMM, end.LengthMM)
		require.Equal(t, s.HeightMM, side.BoardSize.WidthMM)
		require.Equal(t, 2*s.Count, side.Count)
		require.Equal(t, 2*s.Count, end.Count)
	}
}

// TestBoards: source by hand from Two-tier 230.
func TestBoards(t *testing.T) {
	t.Parallel()
	out := work(t, hive.HiveIn{Model: hive.Ready()[0].Model})
	var ninety hive.BoardNeed
	total := 0
	for i, b := range out.Boards {
		total += b.Pieces
		if i > 0 {
			require.GreaterOrEqual(t, out.Boards[i-1].WidthMM, b.WidthMM)
		}
		if b.WidthMM == 90 {
			ninety = b
		}
	}
	require.Equal(t, 2+4+4+4+2+2+2+2, total)
	require.Equal(t, 8, ninety.Pieces)
	require.InDelta(t, 4*0.28+4*0.15, ninety.Metres, 1e-9)
	require.InDelta(t, (4*0.28+4*0.15)*0.09*0.025, ninety.VolumeM3, 1e-12)
	require.Equal(t, 280.0, ninety.LongestMM)
}

func TestWorkMinutes(t *testing.T) {
	t.Parallel()
	ops := []hive.Operation{{SetupMinutes: 15, PieceMinutes: 8, WaitMinutes: 720}, {SetupMinutes: 5, PieceMinutes: 2.5}}
	require.Equal(t, 15+5+6*10.5, hive.WorkMinutes(ops, 6), "by hand; waits are no work")
}

func TestDraw(t *testing.T) {
	t.Parallel()
	d, err := hive.Draw(hive.Ready()[0].Model, 25)
	require.NoError(t, err)
	require.Equal(t, []float64{280, 200, 290}, []float64{d.LengthMM, d.WidthMM, d.HeightMM}, "by hand: 25 + 2 x 90 + 60 + 25")
	require.Len(t, d.Front, 5)
	require.Equal(t, hive.Rect{Name: "brood 2", Kind: "brood", XMM: 0, YMM: 115, WidthMM: 200, HeightMM: 90}, d.Front[2])
	top := 0.0
	for _, r := range d.Front {
		require.Equal(t, top, r.YMM, "sections stand on one another")
		top += r.HeightMM
	}
	rooms := 0.0
	for _, r := range d.Side {
		if r.Kind == "room" {
			rooms += r.WidthMM * r.HeightMM * d.Plan[1].HeightMM / 1e6
		}
	}
	require.InDelta(t, work(t, hive.HiveIn{Model: hive.Ready()[0].Model}).InnerVolumeL, rooms, 1e-9, "the drawing shows the room that is reckoned")
	_, err = hive.Draw(hive.Ready()[0].Model, 120)
	require.Error(t, err)
}

// FuzzHive holds the laws over whatever model is taken: full is no lighter than
// empty, board metres are those of the parts, thicker walls lose less heat and leave less room.
func FuzzHive(f *testing.F) {
	for _, r := range hive.Ready() {
		raw, err := json.Marshal(hive.HiveIn{Model: r.Model})
		require.NoError(f, err)
		f.Add(raw)
	}
	f.Add([]byte(`{"model":{"held_from":"inside","length_mm":0.01,"width_mm":1e4,"wall_mm":3,"sections":[{"id":"a","kind":"honey","height_mm":5,"count":1000}],"parts":[]}}`))
	f.Fuzz(func(t *testing.T, raw []byte) {
		var in hive.HiveIn
		if contract.Decode(raw, &in) != nil {
			return
		}
		out, err := hive.Hive(context.Background(), in)
		if err != nil {
			var bad *contract.Error
			require.ErrorAs(t, err, &bad)
			return
		}
		require.GreaterOrEqual(t, out.FullMassKg, out.EmptyMassKg)
		metres, boards := 0.0, 0.0
		for _, p := range out.Parts {
			require.Greater(t, p.LengthMM, 0.0)
			metres += p.LengthMM * float64(p.Count) / 1000
		}
		for _, b := range out.Boards {
			boards += b.Metres
		}
		require.InDelta(t, metres, boards, 1e-6*metres+1e-9)
		wall := (out.OutsideLengthMM - out.InnerLengthMM) / 2
		thicker := wall + 0.5
		in.ThicknessMM = &thicker
		if in.Model.HeldFrom != "outside" || out.InnerWidthMM < 2*wall+1 || out.InnerLengthMM < 2*wall+1 || out.InnerHeightMM < 2*wall+1 {
			return
		}
		warm, err := hive.Hive(context.Background(), in)
		if err != nil {
			return // a part may have become shorter than nothing
		}
		require.Less(t, warm.InnerVolumeL, out.InnerVolumeL)
		require.Less(t, warm.HeatLossWK, out.HeatLossWK)
		require.Greater(t, warm.WallRM2KW, out.WallRM2KW)
	})
}
