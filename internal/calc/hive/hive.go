package hive

import (
	"context"
	"math"
	"strings"

	"kerfbook/internal/calc/contract"
	"kerfbook/internal/calc/wood"
)

// What a litre of each section weighs when the colony has filled it: our estimate,
// explained at the head of the package.
const (
	broodKgPerL = 0.5
	honeyKgPerL = 1.0
)

// Shape factors of the conduction through the edges and corners of a box.
// Source, from memory: Langmuir, Adams & Meikle 1913.
const (
	edgeFactor   = 0.54 // for each metre of inner edge
	cornerFactor = 0.15 // for each metre of wall thickness, at each corner
)

const (
	// UsualSpecies is the timber of a box where none is named.
	UsualSpecies = "hoop-pine"
	usualMCPct   = 12
	mostMCPct    = 40
)

// HiveIn is a model and what it is built of.
type HiveIn struct {
	Model       Model    `json:"model" need:"yes"`
	Species     string   `json:"species,omitempty"`      // id or name in the species table; left out: hoop-pine
	ThicknessMM *float64 `json:"thickness_mm,omitempty"` // true thickness in place of the model's wall
	MCPct       *float64 `json:"mc_pct,omitempty"`       // left out: 12
}

// CutPart is a part with its length.
type CutPart struct {
	ID        string    `json:"id"`
	Name      string    `json:"name"`
	Section   string    `json:"section,omitempty"`
	BoardSize BoardSize `json:"board_size"`
	LengthMM  float64   `json:"length_mm"`
	Count     int       `json:"count"`
	Grade     string    `json:"grade,omitempty"` // poorest that may serve; empty: any
	// Strips to a glued part, and the width of that part; 0: the part is cut whole.
	Strips       int     `json:"strips,omitempty"`
	PanelWidthMM float64 `json:"panel_width_mm,omitempty"`
}

// HiveOut is what the box takes and what it is like.
type HiveOut struct {
	Parts           []CutPart   `json:"parts"`
	Boards          []BoardNeed `json:"boards"`
	InnerVolumeL    float64     `json:"inner_volume_l"`
	InnerLengthMM   float64     `json:"inner_length_mm"`
	InnerWidthMM    float64     `json:"inner_width_mm"`
	InnerHeightMM   float64     `json:"inner_height_mm"`   // of all brood and honey sections
	OutsideLengthMM float64     `json:"outside_length_mm"` // of the walls; a roof may reach over them
	OutsideWidthMM  float64     `json:"outside_width_mm"`
	OutsideHeightMM float64     `json:"outside_height_mm"` // of all sections
	EmptyMassKg     float64     `json:"empty_mass_kg"`
	FullMassKg      float64     `json:"full_mass_kg"` // with contents by our estimate
	WallRM2KW       float64     `json:"wall_r_m2k_w"` // of the wood, without surface films
	HeatLossWK      float64     `json:"heat_loss_w_k"`
	DensityKgM3     float64     `json:"density_kg_m3"`
	ConductivityWMK float64     `json:"conductivity_w_mk"`
}

// Timber is what a box's mass and warmth depend on, at its moisture content.
type Timber struct {
	DensityKgM3     float64
	ConductivityWMK float64
}

// Hive works a model out in a timber of the species table. An unknown species, a
// moisture outside 0 to 40 %, a thickness outside 0.01 to 10 000 mm, and a model
// that Model.Check refuses are errors.
func Hive(_ context.Context, in HiveIn) (HiveOut, error) {
	var c contract.Checks
	mc, wall := float64(usualMCPct), in.Model.WallMM
	if in.MCPct != nil {
		mc = *in.MCPct
	}
	c.Number("/mc_pct", mc, 0, mostMCPct)
	if in.ThicknessMM != nil {
		wall = *in.ThicknessMM
		size(&c, "/thickness_mm", wall)
	}
	name := in.Species
	if name == "" {
		name = UsualSpecies
	}
	s, ok := wood.FindSpecies(name)
	if !ok {
		var ids []string
		for _, known := range wood.SpeciesTable() {
			ids = append(ids, known.ID)
		}
		c.Add("/species", "is not in the species table; it has %s", strings.Join(ids, ", "))
	}
	if err := c.Err(); err != nil {
		return HiveOut{}, err
	}
	return Measure(in.Model, wall, Timber{s.DensityAt(mc), s.ConductivityAt(mc)})
}

// Measure works a model out with walls truly wallMM thick, in any timber. A model
// that Model.Check refuses is an error; pointers begin at /model.
func Measure(m Model, wallMM float64, timber Timber) (HiveOut, error) {
	parts, err := Parts(m, wallMM)
	if err != nil {
		return HiveOut{}, err
	}
	a, b := m.inner(wallMM)
	out := HiveOut{
		Parts: parts, Boards: Boards(parts),
		InnerLengthMM: a, InnerWidthMM: b,
		OutsideLengthMM: a + 2*wallMM, OutsideWidthMM: b + 2*wallMM,
		WallRM2KW: wallMM / 1000 / timber.ConductivityWMK, DensityKgM3: timber.DensityKgM3, ConductivityWMK: timber.ConductivityWMK,
	}
	contents := 0.0
	for _, s := range m.Sections {
		height := s.HeightMM * float64(s.Count)
		out.OutsideHeightMM += height
		litres := a * b * height / 1e6
		switch s.Kind {
		case "brood":
			contents += litres * broodKgPerL
		case "honey":
			contents += litres * honeyKgPerL
		default:
			continue
		}
		out.InnerHeightMM += height
		out.InnerVolumeL += litres
	}
	for i, p := range parts {
		thickness := trueThickness(m.Parts[i].BoardSize.ThicknessMM, m.WallMM, wallMM)
		length, width := p.LengthMM, p.BoardSize.WidthMM
		if p.Strips > 0 { // as glued and trimmed
			length, width = length-GluedTrimMM, p.PanelWidthMM/float64(p.Strips)
		}
		out.EmptyMassKg += length * width * thickness * float64(p.Count) * timber.DensityKgM3 / 1e9
	}
	out.FullMassKg = out.EmptyMassKg + contents
	out.HeatLossWK = timber.ConductivityWMK * boxShapeFactor(a/1000, b/1000, out.InnerHeightMM/1000, wallMM/1000)
	return out, nil
}

// boxShapeFactor gives the conduction shape factor, in metres, of a hollow box with
// inner sizes a, b, c and walls w, all in metres.
func boxShapeFactor(a, b, c, w float64) float64 {
	return 2*(a*b+b*c+c*a)/w + edgeFactor*4*(a+b+c) + cornerFactor*8*w
}

// inner gives the length and width inside walls of wallMM.
func (m Model) inner(wallMM float64) (lengthMM, widthMM float64) {
	if m.HeldFrom == "inside" {
		return m.LengthMM, m.WidthMM
	}
	return toMM(2*fine(m.LengthMM) - 4*fine(wallMM)), toMM(2*fine(m.WidthMM) - 4*fine(wallMM))
}

// trueThickness gives the wall's true thickness for boards of the model's wall, and
// its own for any other.
func trueThickness(board, modelWall, wall float64) float64 {
	if fine(board) == fine(modelWall) {
		return wall
	}
	return board
}

// fine gives mm in whole hundredths, so that sums are exact.
func fine(mm float64) int64 { return int64(math.Round(mm * 100)) }

// toMM brings half hundredths back to millimetres.
func toMM(halfHundredths int64) float64 { return float64(halfHundredths) / 200 }
