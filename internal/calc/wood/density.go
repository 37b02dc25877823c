package wood

import (
	"context"

	"kerfbook/internal/calc/contract"
)

// WaterKgM3 is the density of water in the handbook's equations.
const WaterKgM3 = 1000

// DensityIn is a specific gravity at a moisture content.
type DensityIn struct {
	SpecificGravity float64 `json:"specific_gravity" need:"yes"` // oven-dry mass on volume at mc_pct; 0.05 to 1.5
	MCPct           float64 `json:"mc_pct" need:"yes"`           // 0 to 300
}

// DensityOut is what that wood weighs and how it conducts heat.
type DensityOut struct {
	DensityKgM3     float64 `json:"density_kg_m3"`
	ConductivityWMK float64 `json:"conductivity_w_mk"` // across the grain, about 24 degrees C
	Extrapolated    bool    `json:"extrapolated"`      // the conductivity: gravity not above 0.3, or moisture 25 % or more
}

// Density gives density and conductivity; see DensityKgM3 and Conductivity.
// Anything outside the ranges in DensityIn is an error.
func Density(_ context.Context, in DensityIn) (DensityOut, error) {
	var c contract.Checks
	c.Number("/specific_gravity", in.SpecificGravity, 0.05, 1.5)
	c.Number("/mc_pct", in.MCPct, 0, mostMoisturePct)
	if err := c.Err(); err != nil {
		return DensityOut{}, err
	}
	return DensityOut{
		DensityKgM3:     DensityKgM3(in.SpecificGravity, in.MCPct),
		ConductivityWMK: Conductivity(in.SpecificGravity, in.MCPct),
		Extrapolated:    in.SpecificGravity <= 0.3 || in.MCPct >= 25,
	}, nil
}

// DensityKgM3 gives rho = 1000 G (1 + M/100) in kg/m3. Source: Wood Handbook eq. 4-12.
func DensityKgM3(gravity, mcPct float64) float64 {
	return WaterKgM3 * gravity * (1 + mcPct/100)
}

// Gravity gives the specific gravity at mcPct of wood of that density; the inverse
// of DensityKgM3.
func Gravity(densityKgM3, mcPct float64) float64 {
	return densityKgM3 / (WaterKgM3 * (1 + mcPct/100))
}

// Conductivity gives k = G (0.1941 + 0.004064 M) + 0.01864 in W/(m K), across the
// grain at about 24 degrees C; single pieces differ by up to 20 %. It was fitted
// for G above 0.3 and M below 25 %. Source: Wood Handbook eq. 4-15.
func Conductivity(gravity, mcPct float64) float64 {
	return gravity*(0.1941+0.004064*mcPct) + 0.01864
}

// GravityAt brings a basic specific gravity (oven-dry mass on green volume) to the
// volume at mcPct: G = Gb / (1 - S/100), S the volumetric shrinkage from green.
// Source: Wood Handbook eq. 4-9.
func GravityAt(basic float64, volumetric Basis, mcPct float64) float64 {
	return basic / (1 - volumetric.ShrinkagePct(mcPct)/100)
}
