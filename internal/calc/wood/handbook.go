package wood

import "strings"

// handbookRow is a North American timber of the Wood Handbook. These rows serve the
// calculations alone; the table of a workshop begins with the timbers of [SpeciesTable].
type handbookRow struct {
	name                     string  // as the handbook's tables print it
	radialPct, tangentialPct float64 // green to oven-dry, Table 4-3
	gravity12                float64 // Table 5-3a; 0: not known
	greenMCPct               float64 // Table 4-1, two parts of heartwood and one of sapwood; 0: not known
	slowness                 float64 // kiln schedules, see below
	memory                   string  // what of it is from memory
}

// handbook: source Wood Handbook FPL-GTR-190 (2010) and -282 (2021), the tables named
// above; the last column says which figures are from memory and were not read again. The
// last figure follows from the kiln schedule of the species (Dry Kiln Operator's Manual,
// Agriculture Handbook 188, from memory), whose step of wet-bulb depression is the measure of how
// hard a board may be dried: 2 for step 1 (tanoak, live oak), 1.4 for step 2 (the
// oaks), nothing from step 3 up. The two factors are our estimate.
var handbook = []handbookRow{
	{"Alder, red", 4.4, 7.3, 0.41, 97, 0, "gravity"},
	{"Ash, blue", 3.9, 6.5, 0.58, 0, 0, "gravity"},
	{"Ash, green", 4.6, 7.1, 0.56, 58, 0, "gravity"},
	{"Ash, pumpkin", 3.7, 6.3, 0.52, 0, 0, "gravity"},
	{"Ash, white", 4.9, 7.8, 0.6, 45, 0, "gravity"},
	{"Aspen, quaking", 3.5, 6.7, 0.38, 101, 0, "gravity"},
	{"Baldcypress", 3.8, 6.2, 0.46, 138, 0, "shrinkage, gravity"},
	{"Basswood, American", 6.6, 9.3, 0.37, 98, 0, "gravity"},
	{"Beech, American", 5.5, 11.9, 0.64, 61, 0, "shrinkage, gravity"},
	{"Birch, paper", 6.3, 8.6, 0.55, 83, 0, "gravity"},
	{"Birch, sweet", 6.5, 9, 0.65, 73, 0, "gravity"},
	{"Birch, yellow", 7.3, 9.5, 0.62, 73, 0, "shrinkage, gravity"},
	{"Butternut", 3.4, 6.4, 0.38, 0, 0, "gravity"},
	{"Cedar, Atlantic white", 2.9, 5.4, 0.32, 0, 0, "gravity"},
	{"Cedar, eastern redcedar", 3.1, 4.7, 0.47, 33, 0, "gravity"},
	{"Cedar, northern white", 2.2, 4.9, 0.31, 0, 0, "gravity"},
	{"Cedar, Port-Orford", 4.6, 6.9, 0.43, 66, 0, "gravity"},
	{"Cedar, western redcedar", 2.4, 5, 0.32, 122, 0, "gravity"},
	{"Cherry, black", 3.7, 7.1, 0.5, 58, 0, "gravity"},
	{"Cottonwood, balsam poplar", 3, 7.1, 0.34, 0, 0, "gravity"},
	{"Cottonwood, black", 3.6, 8.6, 0.35, 157, 0, "gravity, green moisture"},
	{"Douglas-fir, coast", 4.8, 7.6, 0.48, 63, 0, "gravity"},
	{"Douglas-fir, interior north", 3.8, 6.9, 0.48, 0, 0, "gravity"},
	{"Elm, American", 4.2, 9.5, 0.5, 94, 0, "gravity, green moisture"},
	{"Elm, rock", 4.8, 8.1, 0.63, 48, 0, "gravity, green moisture"},
	{"Fir, balsam", 2.9, 6.9, 0.35, 116, 0, "gravity"},
	{"Fir, California red", 4.5, 7.9, 0.38, 0, 0, "gravity"},
	{"Fir, grand", 3.4, 7.5, 0.37, 106, 0, "gravity"},
	{"Fir, noble", 4.3, 8.3, 0.39, 61, 0, "gravity"},
	{"Fir, Pacific silver", 4.4, 9.2, 0.43, 91, 0, "gravity"},
	{"Fir, white", 3.3, 7, 0.39, 119, 0, "gravity"},
	{"Hemlock, eastern", 3, 6.8, 0.4, 104, 0, "shrinkage, gravity"},
	{"Hemlock, western", 4.2, 7.8, 0.45, 113, 0, "gravity"},
	{"Hickory, mockernut", 7.7, 11, 0.72, 64, 0, "gravity, green moisture"},
	{"Hickory, pecan", 4.9, 8.9, 0.66, 0, 0, "gravity"},
	{"Larch, western", 4.5, 9.1, 0.52, 76, 0, "shrinkage, gravity"},
	{"Maple, silver", 3, 7.2, 0.47, 71, 0, "shrinkage, gravity, green moisture"},
	{"Maple, sugar", 4.8, 9.9, 0.63, 67, 0, "gravity"},
	{"Oak, chestnut", 5.3, 10.8, 0.66, 0, 1.4, "gravity"},
	{"Oak, live", 6.6, 9.5, 0.88, 0, 2, "gravity"},
	{"Oak, northern red", 4, 8.6, 0.63, 76, 1.4, "gravity"},
	{"Oak, southern red", 4.7, 11.3, 0.59, 80, 1.4, "shrinkage, gravity, green moisture"},
	{"Oak, white", 5.6, 10.5, 0.68, 69, 1.4, "gravity"},
	{"Persimmon, common", 7.9, 11.2, 0, 0, 0, ""},
	{"Pine, eastern white", 2.1, 6.1, 0.35, 0, 0, "shrinkage, gravity"},
	{"Pine, loblolly", 4.8, 7.4, 0.51, 59, 0, "shrinkage, gravity"},
	{"Pine, lodgepole", 4.3, 6.7, 0.41, 67, 0, "gravity"},
	{"Pine, longleaf", 5.1, 7.5, 0.59, 56, 0, "shrinkage, gravity"},
	{"Pine, ponderosa", 3.9, 6.2, 0.4, 76, 0, "shrinkage, gravity, green moisture"},
	{"Pine, shortleaf", 4.6, 7.7, 0.51, 62, 0, "shrinkage, gravity, green moisture"},
	{"Pine, sugar", 2.9, 5.6, 0.36, 138, 0, "shrinkage, gravity, green moisture"},
	{"Redwood, old-growth", 2.6, 4.4, 0.4, 127, 0, "shrinkage, gravity, green moisture"},
	{"Redwood, young-growth", 2.2, 4.9, 0.35, 0, 0, "shrinkage, gravity"},
	{"Spruce, Engelmann", 3.8, 7.1, 0.35, 92, 0, "gravity"},
	{"Spruce, Sitka", 4.3, 7.5, 0.4, 75, 0, "shrinkage, gravity, green moisture"},
	{"Spruce, white", 4.7, 8.2, 0.36, 0, 0, "shrinkage, gravity"},
	{"Sweetgum", 5.3, 10.2, 0.52, 98, 0, "gravity, green moisture"},
	{"Sycamore, American", 5, 8.4, 0.49, 119, 0, "gravity, green moisture"},
	{"Tanoak", 4.9, 11.7, 0.64, 0, 2, "shrinkage, gravity"},
	{"Tupelo, black", 5.1, 8.7, 0.5, 96, 0, "gravity, green moisture"},
	{"Tupelo, water", 4.2, 7.6, 0.5, 139, 0, "gravity, green moisture"},
	{"Walnut, black", 5.5, 7.8, 0.55, 84, 0, "shrinkage, gravity, green moisture"},
	{"Willow, black", 3.3, 8.7, 0.39, 0, 0, "gravity"},
	{"Yellow-poplar", 4.6, 8.2, 0.42, 91, 0, "gravity"},
}

const handbookSource = "Wood Handbook FPL-GTR-190 Tables 4-1, 4-3 and 5-3a"

// species gives the row as the calculations take it.
func (r handbookRow) species() Species {
	source := handbookSource
	if r.memory != "" {
		source += "; from memory: " + r.memory
	}
	return Species{ID: plainName(turned(r.name)), Name: r.name, RadialPct: r.radialPct, TangentialPct: r.tangentialPct,
		AirDryKgM3: DensityKgM3(r.gravity12, airDryPct), Source: source, GreenMCPct: r.greenMCPct, Slowness: r.slowness}
}

// turned gives the name as it is spoken: "white oak" for "Oak, white".
func turned(name string) string {
	if kind, which, ok := strings.Cut(name, ", "); ok {
		return which + " " + kind
	}
	return name
}

// HandbookSpecies gives the North American timbers that the calculations know beside
// [SpeciesTable], by the handbook's names.
func HandbookSpecies() []Species {
	out := make([]Species, len(handbook))
	for i, r := range handbook {
		out[i] = r.species()
	}
	return out
}
