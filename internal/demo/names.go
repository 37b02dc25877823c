package demo

import "fmt"

// Invented people: given and family names are put together by chance.
var given = []string{"Tamsin", "Odell", "Marit", "Ravi", "Leilani", "Huon", "Bridie", "Casimir", "Noor", "Fergus", "Ines", "Jarrah", "Petra", "Lachlan", "Mei", "Oskar", "Saoirse", "Tobias", "Una", "Viggo",
	"Winifred", "Xanthe", "Yusuf", "Zelda", "Amara", "Bastian", "Clio", "Dougal", "Elke", "Farid", "Greta", "Hamish", "Isolde", "Jonty", "Kirra", "Linus", "Magda", "Nils", "Oriel", "Pasco",
	"Quill", "Rosalind", "Sunil", "Thea", "Ulric", "Verity", "Wes", "Yara", "Zoltan", "Anneke"}

var family = []string{"Dallimore", "Quarrell", "Pellinger", "Osterby", "Varga-Lowe", "Thistlewood", "Nakagiri", "Brannock", "Calloway-Rees", "Drummoyle", "Eskander", "Fennimore", "Garraway", "Hollister-Bo", "Iversleigh", "Jankovar",
	"Kettlewell", "Lomandra", "Merrigold", "Nethercote", "Oakeshaw", "Penhallick", "Quenby", "Rostrevore", "Skarsholm", "Tregantle", "Umberleigh", "Vandersloot", "Wexcombe", "Yarrowby", "Zielonka", "Ashgrove-Tan",
	"Bellbrook", "Corrigal", "Dunmallet", "Emberson", "Farnaby", "Gillespey", "Hargrave-Ito", "Inglebard"}

// places are the towns of a valley that is on no map, with their way from the workshop.
type place struct {
	town string
	lat  float64
	lon  float64
	km   float64
}

var places = []place{
	{"Corrabin", -26.42, 152.61, 4}, {"Upper Corrabin", -26.38, 152.57, 9}, {"Bannister Flat", -26.47, 152.68, 12}, {"Tallowood Reach", -26.51, 152.74, 21}, {"Marlow Junction", -26.35, 152.70, 18},
	{"Tin Kettle Creek", -26.56, 152.58, 24}, {"Harrow Hill", -26.31, 152.63, 16}, {"Old Landing", -26.49, 152.86, 33}, {"Dry Saddle", -26.62, 152.52, 36}, {"Little Moran", -26.44, 152.79, 22},
	{"Sandspit Point", -26.53, 153.02, 48}, {"Wattlebark", -26.28, 152.81, 29},
}

var roads = []string{"Saddle Road", "Ferry Lane", "Creek Road", "Old Mill Track", "Quarry Street", "School Lane", "Ridge Road", "Pump Shed Road", "Cedar Street", "Windmill Road"}

// organisations buy several boxes at a time.
var organisations = []string{"Corrabin Valley State School", "Tallowood Reach Landcare", "Shire of Upper Corrabin", "Marlow Junction Community Garden", "Old Landing Men's Shed", "Little Moran Bee Club", "Harrow Hill Macadamias", "Wattlebark Retreat"}

// foundBy is how people come to the workshop; most by word of mouth.
var foundBy = []string{"a neighbour", "a neighbour", "a friend", "a friend", "the bee club", "bought before", "the school", "the markets", "a sign at the gate", "a relative", "the hardware shop"}

// phone gives numbers that are kept for fiction, each once.
func phone(n int) string {
	switch n % 3 {
	case 0:
		return fmt.Sprintf("07 5550 %04d", 1000+n)
	case 1:
		return fmt.Sprintf("07 7010 %04d", 1000+n)
	}
	return fmt.Sprintf("0491 57%d %03d", n/900%10, n%900+100)
}
