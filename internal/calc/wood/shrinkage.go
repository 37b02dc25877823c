package wood

import (
	"context"
	"math"
	"strings"

	"kerfbook/internal/calc/contract"
)

// FibreSaturationPct is the moisture content below which wood shrinks, where it is
// not known for the species. Source: Wood Handbook ch. 4.
const FibreSaturationPct = 30

// Bounds of what is taken as a size or a moisture content.
const (
	mostSizeMM      = 100_000
	mostMoisturePct = 300
)

// Basis says how far a wood shrinks across the grain.
type Basis struct {
	TotalPct           float64 // shrinkage from green to ToMCPct, % of the green size
	ToMCPct            float64 // moisture the total runs to
	FibreSaturationPct float64
}

// ShrinkagePct gives the shrinkage from green to mcPct in percent of the green
// size: S(M) = S(Mref) (Mfs - M)/(Mfs - Mref), nothing above Mfs. b.ToMCPct lies
// below b.FibreSaturationPct. Source: Wood Handbook eq. 4-7, there for Mref = 0.
func (b Basis) ShrinkagePct(mcPct float64) float64 {
	if mcPct >= b.FibreSaturationPct {
		return 0
	}
	return b.TotalPct * (b.FibreSaturationPct - mcPct) / (b.FibreSaturationPct - b.ToMCPct)
}

// Resize gives the size at toPct of what measures sizeMM at fromPct.
func (b Basis) Resize(sizeMM, fromPct, toPct float64) float64 {
	return sizeMM * (100 - b.ShrinkagePct(toPct)) / (100 - b.ShrinkagePct(fromPct))
}

// ShrinkageIn is a size at one moisture content, to be known at another.
type ShrinkageIn struct {
	SizeMM             float64  `json:"size_mm" need:"yes"` // at from_mc_pct
	FromMCPct          float64  `json:"from_mc_pct" need:"yes"`
	ToMCPct            float64  `json:"to_mc_pct" need:"yes"`
	TotalShrinkagePct  *float64 `json:"total_shrinkage_pct,omitempty"`  // or species and grain
	Species            string   `json:"species,omitempty"`              // id or name in the species table
	Grain              string   `json:"grain,omitempty"`                // radial, tangential or mixed (their mean)
	ShrinkageToMCPct   *float64 `json:"shrinkage_to_mc_pct,omitempty"`  // moisture the total runs to; left out: 0, or what the species' row says
	FibreSaturationPct *float64 `json:"fibre_saturation_pct,omitempty"` // left out: 30
}

// ShrinkageOut is the size at the other moisture content.
type ShrinkageOut struct {
	SizeMM       float64 `json:"size_mm"`
	ChangeMM     float64 `json:"change_mm"` // negative when it shrinks
	ShrinkagePct float64 `json:"shrinkage_pct"`
}

// Shrinkage gives the size at to_mc_pct of what measures size_mm at from_mc_pct.
// shrinkage_pct is that from green to to_mc_pct. Sizes lie between 0 and 100 000 mm, moistures
// between 0 and 300 %, totals between 0 and 60 %, fibre saturation between 15 and
// 50 %; anything else is an error, and so is a total beside a species.
func Shrinkage(_ context.Context, in ShrinkageIn) (ShrinkageOut, error) {
	var c contract.Checks
	c.Number("/size_mm", in.SizeMM, 0, mostSizeMM)
	c.Number("/from_mc_pct", in.FromMCPct, 0, mostMoisturePct)
	c.Number("/to_mc_pct", in.ToMCPct, 0, mostMoisturePct)
	b := basisOf(&c, in.TotalShrinkagePct, in.Species, in.Grain, in.ShrinkageToMCPct, in.FibreSaturationPct)
	if err := c.Err(); err != nil {
		return ShrinkageOut{}, err
	}
	size := b.Resize(in.SizeMM, in.FromMCPct, in.ToMCPct)
	return ShrinkageOut{SizeMM: size, ChangeMM: size - in.SizeMM, ShrinkagePct: b.ShrinkagePct(in.ToMCPct)}, nil
}

// basisOf reads the shrinkage fields that two topics share.
func basisOf(c *contract.Checks, total *float64, species, grain string, toMC, saturation *float64) Basis {
	b := Basis{FibreSaturationPct: FibreSaturationPct}
	if saturation != nil {
		b.FibreSaturationPct = *saturation
	}
	c.Number("/fibre_saturation_pct", b.FibreSaturationPct, 15, 50)
	switch {
	case total != nil && (species != "" || grain != ""):
		c.Add("/total_shrinkage_pct", "give a total, or a species with its grain, not both")
	case total != nil:
		b.TotalPct = *total
	case species == "":
		c.Add("/total_shrinkage_pct", "is missing: give a total, or a species and its grain")
	default:
		b = basisOfSpecies(c, b, species, grain)
	}
	if toMC != nil {
		if species != "" && *toMC != b.ToMCPct {
			c.Add("/shrinkage_to_mc_pct", "the row of %s runs to %g %%; leave this out", species, b.ToMCPct)
		}
		b.ToMCPct = *toMC
	}
	c.Number("/total_shrinkage_pct", b.TotalPct, 0, 60)
	if !c.Number("/shrinkage_to_mc_pct", b.ToMCPct, 0, mostMoisturePct) {
		return b
	}
	switch {
	case b.ToMCPct >= b.FibreSaturationPct:
		c.Add("/shrinkage_to_mc_pct", "must lie below the fibre saturation of %g %%", b.FibreSaturationPct)
	case b.ShrinkagePct(0) > 60:
		c.Add("/total_shrinkage_pct", "comes to more than 60 %% when bone dry; no wood shrinks so far")
	}
	return b
}

func basisOfSpecies(c *contract.Checks, b Basis, species, grain string) Basis {
	s, ok := FindSpecies(species)
	if !ok {
		c.Add("/species", "is not in the species table; it has %s", strings.Join(speciesIDs(), ", "))
		return b
	}
	b.ToMCPct = s.ShrinkageToMCPct
	switch grain {
	case "radial":
		b.TotalPct = s.RadialPct
	case "tangential":
		b.TotalPct = s.TangentialPct
	case "mixed":
		b.TotalPct = (s.RadialPct + s.TangentialPct) / 2
	default:
		c.Add("/grain", "must be radial, tangential or mixed")
	}
	return b
}

// SawnSizeIn is a dressed size to be sawn for.
type SawnSizeIn struct {
	DressedMM          float64  `json:"dressed_mm" need:"yes"`
	PlaningMM          float64  `json:"planing_mm" need:"yes"` // both faces together
	ToMCPct            float64  `json:"to_mc_pct" need:"yes"`  // moisture at which it is dressed
	TotalShrinkagePct  *float64 `json:"total_shrinkage_pct,omitempty"`
	Species            string   `json:"species,omitempty"`
	Grain              string   `json:"grain,omitempty"`
	ShrinkageToMCPct   *float64 `json:"shrinkage_to_mc_pct,omitempty"`
	FibreSaturationPct *float64 `json:"fibre_saturation_pct,omitempty"`
	SawVariationMM     float64  `json:"saw_variation_mm"` // how far below its mark a board may come off the saw
	StraightenMM       float64  `json:"straighten_mm"`    // taken off the dry board to make it straight
}

// SawnSizeOut is the size to saw.
type SawnSizeOut struct {
	SawnMM  float64 `json:"sawn_mm"`  // whole mm
	GreenMM float64 `json:"green_mm"` // the same before rounding up
	DryMM   float64 `json:"dry_mm"`   // what a board sawn to sawn_mm and cut short by the saw's variation dries to
}

// roundUpMM forgives the last binary digits when a size is already whole.
const roundUpMM = 1e-9

// SawnSize gives the smallest whole millimetre that still dresses clean:
//
//	green = (dressed + planing + straighten) / (1 - S(M)/100) + saw variation
//
// rounded up. Sizes lie between 0 and 100 000 mm (dressed above 0), the rest as for
// Shrinkage. Source: shrinkage as there; the allowances are common practice, no source.
func SawnSize(_ context.Context, in SawnSizeIn) (SawnSizeOut, error) {
	var c contract.Checks
	c.Number("/dressed_mm", in.DressedMM, 0.1, mostSizeMM)
	c.Number("/planing_mm", in.PlaningMM, 0, mostSizeMM)
	c.Number("/saw_variation_mm", in.SawVariationMM, 0, mostSizeMM)
	c.Number("/straighten_mm", in.StraightenMM, 0, mostSizeMM)
	c.Number("/to_mc_pct", in.ToMCPct, 0, mostMoisturePct)
	b := basisOf(&c, in.TotalShrinkagePct, in.Species, in.Grain, in.ShrinkageToMCPct, in.FibreSaturationPct)
	if err := c.Err(); err != nil {
		return SawnSizeOut{}, err
	}
	left := 1 - b.ShrinkagePct(in.ToMCPct)/100
	green := (in.DressedMM+in.PlaningMM+in.StraightenMM)/left + in.SawVariationMM
	sawn := math.Ceil(green - roundUpMM)
	return SawnSizeOut{SawnMM: sawn, GreenMM: green, DryMM: (sawn - in.SawVariationMM) * left}, nil
}

// DressedMM gives the largest size that a board sawn to sawnMM dresses to: the
// reverse of SawnSize, before any rounding. It is below zero where nothing is left.
func DressedMM(b Basis, sawnMM, planingMM, toMCPct, sawVariationMM, straightenMM float64) float64 {
	return (sawnMM-sawVariationMM)*(1-b.ShrinkagePct(toMCPct)/100) - planingMM - straightenMM
}
