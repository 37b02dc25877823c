package paper

// SpeciesFacts is what the handover sheet says about a species. Zero figures
// and empty texts are left out of the wording.
type SpeciesFacts struct {
	Name        string // scientific
	Common      string
	FlyAboveC   float64 // flight only above this air temperature
	HeatAboveC  float64 // above this the box needs shade and cooling
	LethalLowC  float64 // inside the nest, lethal within hours: from
	LethalHighC float64 // to
	Range       string  // natural range
	Note        string
}

// Species gives the facts on record for a species by its scientific name.
// Sources: flight threshold, Heard and Hendrikz 1993, Aust. J. Zool. 41: 343-353
// (carbonaria only); 40 degrees outside, a keepers' weather page
// (sites.google.com/view/beekeeping-honey-and-native); 42 to 43 degrees inside,
// from memory (Heard, The Australian Native Bee Book, 2016); ranges, Fraser Coast
// council and others named in the project's table of bee facts.
func Species(name string) (SpeciesFacts, bool) {
	f, ok := speciesFacts[name]
	return f, ok
}

var speciesFacts = map[string]SpeciesFacts{
	"Tetragonula carbonaria": {
		Name: "Tetragonula carbonaria", FlyAboveC: 18, HeatAboveC: 40, LethalLowC: 42, LethalHighC: 43,
		Range: "from about Bundaberg to the south coast of New South Wales (about Bega), and the high country of the Atherton Tableland and the Daintree",
	},
	"Tetragonula hockingsi": {
		Name: "Tetragonula hockingsi", HeatAboveC: 40, LethalLowC: 42, LethalHighC: 43,
		Range: "the length of the Queensland coast from about Brisbane to Cape York, and across the top of the Northern Territory",
	},
	"Austroplebeia australis": {
		Name: "Austroplebeia australis", HeatAboveC: 40, LethalLowC: 42, LethalHighC: 43,
		Range: "the north coast of New South Wales, most of Queensland, the north of the Northern Territory and the Kimberley; in New South Wales not south of about 31° S",
	},
}
