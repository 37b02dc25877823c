package timber

import (
	"context"

	"github.com/shopspring/decimal"

	"kerfbook/internal/calc/wood"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
)

// Allowance is what lies between a green size and the size it dresses to. Lengths in mm.
type Allowance struct {
	PlaningMM             decimal.Decimal // both faces together
	StraightenWidthMM     decimal.Decimal // off the dry board
	StraightenThicknessMM decimal.Decimal // off the dry board
	SawVariationMM        decimal.Decimal // how far below its mark a board may come off the mill
	MCPct                 decimal.Decimal // moisture at which it is dressed and will live
	Grain                 string          // radial, tangential or mixed
}

// AllowanceOf gives the workshop's own allowance.
func AllowanceOf(s house.Settings) Allowance {
	return Allowance{PlaningMM: s.PlaningMM, StraightenWidthMM: s.StraightenWidthMM, StraightenThicknessMM: s.StraightenThicknessMM,
		SawVariationMM: s.SawVariationMM, MCPct: s.BoxMCPct, Grain: s.SawnGrain}
}

func (a Allowance) check(l *fault.List) {
	for pointer, d := range map[string]decimal.Decimal{"/planing_mm": a.PlaningMM, "/straighten_width_mm": a.StraightenWidthMM, "/straighten_thickness_mm": a.StraightenThicknessMM, "/saw_variation_mm": a.SawVariationMM} {
		mmBetween(l, pointer, d, 0, 50)
	}
	pctBetween(l, "/to_mc_pct", a.MCPct, 3, 25)
	l.Check(a.Grain == "radial" || a.Grain == "tangential" || a.Grain == "mixed", "/grain", "The shrinkage is radial, tangential or mixed.")
}

// What an unknown timber is reckoned to shrink from green to 12 %: our estimate, on the
// side of a board that is too large.
const (
	unknownShrinkPct = 7.0
	unknownToMCPct   = 12.0
)

// Shrinkage gives how far the timber shrinks across that grain, in percent from green to
// toMCPct. known is false where the book has no figure and our estimate stands.
func (s Species) Shrinkage(grain string) (totalPct, toMCPct float64, known bool) {
	radial, tangential := s.RadialPct, s.TangentialPct
	if radial == nil {
		radial = tangential
	}
	if tangential == nil {
		tangential = radial
	}
	if tangential == nil {
		return unknownShrinkPct, unknownToMCPct, false
	}
	toMCPct = s.ShrinkageToMCPct.InexactFloat64()
	switch grain {
	case "radial":
		return radial.InexactFloat64(), toMCPct, true
	case "tangential":
		return tangential.InexactFloat64(), toMCPct, true
	}
	return radial.Add(*tangential).InexactFloat64() / 2, toMCPct, true
}

// side is one side of a board: how much is straightened off it, and where it is wrong.
type side struct {
	pointer      string
	straightenMM decimal.Decimal
}

func (a Allowance) sides() (width, thickness side) {
	return side{"/width_mm", a.StraightenWidthMM}, side{"/thickness_mm", a.StraightenThicknessMM}
}

// GreenSize gives the smallest whole millimetres to saw so that the board dresses to that
// size. Errors: Invalid.
func (s Species) GreenSize(ctx context.Context, dressed Size, a Allowance) (Size, error) {
	if err := checkSized(dressed, a); err != nil {
		return Size{}, err
	}
	total, to, _ := s.Shrinkage(a.Grain)
	saw := func(mm decimal.Decimal, at side) (decimal.Decimal, error) {
		out, err := wood.SawnSize(ctx, wood.SawnSizeIn{DressedMM: mm.InexactFloat64(), PlaningMM: a.PlaningMM.InexactFloat64(), ToMCPct: a.MCPct.InexactFloat64(), TotalShrinkagePct: &total, ShrinkageToMCPct: &to,
			SawVariationMM: a.SawVariationMM.InexactFloat64(), StraightenMM: at.straightenMM.InexactFloat64()})
		if err != nil {
			return decimal.Zero, fault.Bad(at.pointer, "This timber cannot be reckoned with: %v. Look at its shrinkage.", err)
		}
		return decimal.NewFromFloat(out.SawnMM), nil
	}
	width, thickness := a.sides()
	w, err := saw(dressed.WidthMM, width)
	if err != nil {
		return Size{}, err
	}
	t, err := saw(dressed.ThicknessMM, thickness)
	return Size{WidthMM: w, ThicknessMM: t}, err
}

// DressedSize gives the largest size, in whole tenths of a millimetre, that a board sawn
// to that size is sure to dress to. Errors: Invalid, also when nothing is left.
func (s Species) DressedSize(green Size, a Allowance) (Size, error) {
	if err := checkSized(green, a); err != nil {
		return Size{}, err
	}
	total, to, _ := s.Shrinkage(a.Grain)
	b := wood.Basis{TotalPct: total, ToMCPct: to, FibreSaturationPct: wood.FibreSaturationPct}
	var l fault.List
	dress := func(mm decimal.Decimal, at side) decimal.Decimal {
		left := wood.DressedMM(b, mm.InexactFloat64(), a.PlaningMM.InexactFloat64(), a.MCPct.InexactFloat64(), a.SawVariationMM.InexactFloat64(), at.straightenMM.InexactFloat64())
		out := decimal.NewFromFloat(left + sizeHair).Truncate(1)
		l.Check(out.IsPositive(), at.pointer, "Nothing is left of %s mm once it is dry and dressed. Saw it larger.", mm)
		return out
	}
	width, thickness := a.sides()
	out := Size{WidthMM: dress(green.WidthMM, width), ThicknessMM: dress(green.ThicknessMM, thickness)}
	return out, l.Err()
}

// sizeHair in mm is given back to a size that is a whole tenth but for rounding.
const sizeHair = 1e-9

func checkSized(z Size, a Allowance) error {
	var l fault.List
	mmBetween(&l, "/width_mm", z.WidthMM, 1, 2000)
	mmBetween(&l, "/thickness_mm", z.ThicknessMM, 1, 500)
	a.check(&l)
	return l.Err()
}
