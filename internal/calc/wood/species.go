package wood

import (
	"slices"
	"strings"
)

// Species is one timber's row. A maker's own timbers have rows of the same shape.
type Species struct {
	ID               string
	Name             string
	Botanical        string
	RadialPct        float64 // shrinkage from green to ShrinkageToMCPct, % of the green size
	TangentialPct    float64
	ShrinkageToMCPct float64
	BasicKgM3        float64 // oven-dry mass on green volume; 0: not known
	AirDryKgM3       float64 // mass and volume at 12 %
	SapwoodBorers    bool    // powder-post beetles take the sapwood: it is left out of boxes, never treated
	Source           string
	GreenMCPct       float64 // usual moisture when sawn, % of oven-dry mass, a third of it sapwood; 0: not known
	Slowness         float64 // how much slower it dries than its weight says; 0: as its weight says
}

const airDryPct = 12

const (
	queensland   = "Queensland Government timber properties page"
	borersMemory = "sapwood: from memory, AS 5604"
	softwood     = "softwood, no lyctine attack: Peters, Creffield & Eldridge 2002, Australian Forestry 65(2)"
)

var species = []Species{
	{"hoop-pine", "Hoop pine", "Araucaria cunninghamii", 2.5, 3.8, 12, 0, 560, false,
		"shrinkage, density: " + queensland + "; " + softwood + "; in the tropics the Queensland pine beetle may take it (from memory)", 0, 0},
	{"oregon", "Oregon (coast Douglas-fir)", "Pseudotsuga menziesii", 4.8, 7.6, 0, 450, 540, false,
		"shrinkage: Wood Handbook FPL-GTR-190 Table 4-3; density: from memory, same, Table 5-3 (0.45 green, 0.48 at 12 %); green moisture: same, Table 4-1; " + softwood, 63, 0},
	{"paulownia", "Paulownia", "Paulownia tomentosa", 2.4, 3.9, 0, 0, 280, false,
		"shrinkage, density: from memory, The Wood Database; sapwood not known, taken as left alone", 0, 0},
	{"queensland-kauri", "Queensland kauri", "Agathis robusta", 3.5, 6.1, 0, 410, 470, false,
		"shrinkage, density: wood-database.com/queensland-kauri; " + softwood, 0, 0},
	{"radiata-pine", "Radiata pine", "Pinus radiata", 3.4, 5.1, 12, 490, 590, false,
		"shrinkage, density of trees of 30 to 40 years: 1800timber.com after the Forest Products Commission WA; " + softwood, 0, 0},
	{"red-cedar", "Red cedar (Australian)", "Toona ciliata", 2.2, 4.1, 12, 0, 450, true,
		"shrinkage (printed as to 21 %, read as 12 %), density: " + queensland + "; " + borersMemory, 0, 0},
	{"southern-silky-oak", "Southern silky oak", "Grevillea robusta", 2.7, 7.7, 0, 470, 607, true,
		"density: Timbers of Kerala (plantation); shrinkage: from memory, The Wood Database; " + borersMemory, 0, 0},
	{"spotted-gum", "Spotted gum", "Corymbia maculata", 4.3, 6.1, 12, 0, 1010, true,
		"shrinkage, density: from memory, Bootle, Wood in Australia; " + borersMemory, 0, 0},
	{"western-red-cedar", "Western red cedar", "Thuja plicata", 2.4, 5.0, 0, 310, 370, false,
		"shrinkage: Wood Handbook FPL-GTR-190 Table 4-3; density: from memory, common handbook figure; green moisture: same handbook, Table 4-1; " + softwood, 122, 0},
	{"white-cypress", "White cypress", "Callitris glaucophylla", 2.4, 2.6, 12, 580, 675, false,
		"shrinkage, air-dry density: " + queensland + "; basic density: Forest Products Commission WA; " + softwood, 0, 0},
}

// SpeciesTable gives every row, sorted by id. The slice is the caller's own.
func SpeciesTable() []Species { return slices.Clone(species) }

// FindSpecies finds a row by id, trade name or botanical name, in any case, with
// blanks, hyphens or underscores between the words; beside the table also the handbook's
// North American timbers, such as "white oak" or "Oak, white".
func FindSpecies(name string) (Species, bool) {
	want := plainName(name)
	for _, s := range species {
		if want == s.ID || want == plainName(s.Name) || want == plainName(s.Botanical) {
			return s, true
		}
	}
	for _, r := range handbook {
		if want == plainName(r.name) || want == plainName(turned(r.name)) {
			return r.species(), true
		}
	}
	return Species{}, false
}

func plainName(s string) string {
	return strings.NewReplacer(",", "", " ", "-", "_", "-").Replace(strings.ToLower(strings.TrimSpace(s)))
}

func speciesIDs() []string {
	ids := make([]string, len(species))
	for i, s := range species {
		ids[i] = s.ID
	}
	return ids
}

// Volumetric gives the row's shrinkage by volume, made up of its two directions:
// the loss along the grain is neglected.
func (s Species) Volumetric() Basis {
	total := 100 - (100-s.RadialPct)*(100-s.TangentialPct)/100
	return Basis{TotalPct: total, ToMCPct: s.ShrinkageToMCPct, FibreSaturationPct: FibreSaturationPct}
}

// GravityAt gives the specific gravity at mcPct, from the air-dry density and the
// shrinkage between 12 % and mcPct.
func (s Species) GravityAt(mcPct float64) float64 {
	v := s.Volumetric()
	basic := Gravity(s.AirDryKgM3, airDryPct) * (1 - v.ShrinkagePct(airDryPct)/100)
	return GravityAt(basic, v, mcPct)
}

// DensityAt gives the density in kg/m3 at mcPct.
func (s Species) DensityAt(mcPct float64) float64 { return DensityKgM3(s.GravityAt(mcPct), mcPct) }

// ConductivityAt gives the conductivity across the grain in W/(m K) at mcPct.
func (s Species) ConductivityAt(mcPct float64) float64 {
	return Conductivity(s.GravityAt(mcPct), mcPct)
}
