package wood_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/contract"
	"kerfbook/internal/calc/wood"
)

// FuzzMoisture: in range, wetter air never gives drier wood, and the inverse leads back.
func FuzzMoisture(f *testing.F) {
	f.Add(24.0, 65.0)
	f.Add(-40.0, 0.0)
	f.Add(132.2, 100.0)
	f.Fuzz(func(t *testing.T, tC, humidity float64) {
		out, err := wood.Moisture(context.Background(), wood.MoistureIn{TemperatureC: tC, HumidityPct: humidity})
		if err != nil {
			var bad *contract.Error
			require.ErrorAs(t, err, &bad)
			return
		}
		require.False(t, math.IsNaN(out.EMCPct) || out.EMCPct < 0 || out.EMCPct > 40, "%g", out.EMCPct)
		if tC < -1.1 || tC > 100 {
			return // the equation bends where it is far outside its table
		}
		back, ok := wood.HumidityAt(tC, out.EMCPct)
		require.True(t, ok)
		require.InDelta(t, humidity, back, 1e-6)
	})
}

// FuzzShrinkage: there and back is where it was; drying never makes wood larger; a
// board sawn to the sawn size dresses to at least the dressed size, one millimetre
// less does not.
func FuzzShrinkage(f *testing.F) {
	f.Add(150.0, 60.0, 12.0, 3.8, 12.0, 4.0, 1.0)
	f.Add(100.0, 12.0, 60.0, 8.0, 0.0, 0.0, 0.0)
	f.Fuzz(func(t *testing.T, size, from, to, total, toMC, planing, variation float64) {
		ctx := context.Background()
		there, err := wood.Shrinkage(ctx, wood.ShrinkageIn{SizeMM: size, FromMCPct: from, ToMCPct: to, TotalShrinkagePct: &total, ShrinkageToMCPct: &toMC})
		if err != nil {
			var bad *contract.Error
			require.ErrorAs(t, err, &bad)
			return
		}
		back, err := wood.Shrinkage(ctx, wood.ShrinkageIn{SizeMM: there.SizeMM, FromMCPct: to, ToMCPct: from, TotalShrinkagePct: &total, ShrinkageToMCPct: &toMC})
		if err != nil {
			return // swollen past the largest size
		}
		require.InDelta(t, size, back.SizeMM, 1e-6*size+1e-9)
		if to <= from {
			require.LessOrEqual(t, there.ChangeMM, 1e-9)
		}
		sawn, err := wood.SawnSize(ctx, wood.SawnSizeIn{DressedMM: size, PlaningMM: planing, ToMCPct: to, TotalShrinkagePct: &total, ShrinkageToMCPct: &toMC, SawVariationMM: variation})
		if err != nil {
			return
		}
		b := wood.Basis{TotalPct: total, ToMCPct: toMC, FibreSaturationPct: wood.FibreSaturationPct}
		require.GreaterOrEqual(t, wood.DressedMM(b, sawn.SawnMM, planing, to, variation, 0), size-1e-6)
		require.Less(t, wood.DressedMM(b, sawn.SawnMM-1, planing, to, variation, 0), size)
	})
}
