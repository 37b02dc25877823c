package hive

// ReadyModel is a model to start from. The sizes are our own round figures around
// what keepers describe as usual: 25 mm walls or more, 6 to 10 litres in all.
type ReadyModel struct {
	Name  string
	About string
	Model Model
}

// Ready gives models for stingless bees, from small to warm. Their ids and revisions
// are fixed; the slices are the caller's own.
func Ready() []ReadyModel {
	return []ReadyModel{
		{
			Name:  "Two-tier 230",
			About: "Two brood tiers that part for a split, a low honey tier above; 25 mm walls.",
			Model: outsideModel("two-tier-230", 60),
		},
		{
			Name:  "Deep-honey 230",
			About: "The same brood tiers under a full honey tier; its sections fit those of Two-tier 230.",
			Model: outsideModel("deep-honey-230", 90),
		},
		{
			Name:  "Thick-wall 210",
			About: "Held from the inside, 45 mm walls, for cold nights and hot walls.",
			Model: thickModel(),
		},
	}
}

// outsideModel has 25 mm walls and is held from outside, 280 x 200 mm.
func outsideModel(id string, honeyMM float64) Model {
	long, across := Length{Length: 1}, Length{Width: 1, Wall: -2}
	brood, honey, slat := BoardSize{90, 25}, BoardSize{honeyMM, 25}, BoardSize{20, 12}
	return Model{
		ID: id, Revision: 1, HeldFrom: "outside", LengthMM: 280, WidthMM: 200, WallMM: 25, Fit: "230 x 150",
		Sections: tiers(honeyMM),
		Parts: []Part{
			part("floor-board", "Floor board", "floor", 2, BoardSize{100, 25}, long),
			part("brood-side", "Brood side", "brood", 4, brood, long),
			part("brood-end", "Brood end", "brood", 4, brood, across),
			part("brood-slat", "Slat under the brood", "brood", 4, slat, across),
			part("honey-side", "Honey side", "honey", 2, honey, long),
			part("honey-end", "Honey end", "honey", 2, honey, across),
			part("roof-board", "Roof board", "roof", 2, BoardSize{125, 25}, Length{Length: 1, PlusMM: 60}),
			part("roof-cleat", "Cleat across the roof", "roof", 2, BoardSize{40, 25}, Length{Width: 1, PlusMM: 30}),
		},
		Fittings: []Fitting{{"screw-50", 32}, {"screw-30", 12}, {"entrance-tube", 1}, {"strap", 1}},
		Operations: []Operation{
			{ID: "dock", SetupMinutes: 15, PieceMinutes: 8, Needs: []string{"saw"}},
			{ID: "rebate", SetupMinutes: 20, PieceMinutes: 9, Needs: []string{"router"}},
			{ID: "assemble", SetupMinutes: 10, PieceMinutes: 24, WaitMinutes: 720, Needs: []string{"clamps"}},
			{ID: "sand", SetupMinutes: 5, PieceMinutes: 8},
			{ID: "finish", SetupMinutes: 10, PieceMinutes: 9, WaitMinutes: 2880},
			{ID: "fit-out", SetupMinutes: 5, PieceMinutes: 7},
		},
	}
}

// thickModel has 45 mm walls and is held from inside, 210 x 140 mm.
func thickModel() Model {
	long, across := Length{Length: 1, Wall: 2}, Length{Width: 1}
	wall, slat := BoardSize{90, 45}, BoardSize{20, 12}
	return Model{
		ID: "thick-wall-210", Revision: 1, HeldFrom: "inside", LengthMM: 210, WidthMM: 140, WallMM: 45, Fit: "210 x 140",
		Sections: tiers(90),
		Parts: []Part{
			part("floor-board", "Floor board", "floor", 2, BoardSize{125, 25}, long),
			part("brood-side", "Brood side", "brood", 4, wall, long),
			part("brood-end", "Brood end", "brood", 4, wall, across),
			part("brood-slat", "Slat under the brood", "brood", 4, slat, across),
			part("honey-side", "Honey side", "honey", 2, wall, long),
			part("honey-end", "Honey end", "honey", 2, wall, across),
			part("roof-board", "Roof board", "roof", 2, BoardSize{150, 25}, Length{Length: 1, Wall: 2, PlusMM: 60}),
			part("roof-cleat", "Cleat across the roof", "roof", 2, BoardSize{40, 25}, Length{Width: 1, Wall: 2, PlusMM: 30}),
		},
		Fittings: []Fitting{{"screw-75", 24}, {"screw-50", 20}, {"entrance-tube", 1}, {"strap", 1}},
		Operations: []Operation{
			{ID: "dock", SetupMinutes: 20, PieceMinutes: 10, Needs: []string{"saw"}},
			{ID: "rebate", SetupMinutes: 25, PieceMinutes: 12, Needs: []string{"router"}},
			{ID: "assemble", SetupMinutes: 10, PieceMinutes: 30, WaitMinutes: 720, Needs: []string{"clamps"}},
			{ID: "sand", SetupMinutes: 5, PieceMinutes: 9},
			{ID: "finish", SetupMinutes: 10, PieceMinutes: 10, WaitMinutes: 2880},
			{ID: "fit-out", SetupMinutes: 5, PieceMinutes: 7},
		},
	}
}

// tiers are a floor, two brood tiers, one honey tier and a roof.
func tiers(honeyMM float64) []Section {
	return []Section{
		{"floor", "floor", 25, 1},
		{"brood", "brood", 90, 2},
		{"honey", "honey", honeyMM, 1},
		{"roof", "roof", 25, 1},
	}
}

func part(id, name, section string, count int, size BoardSize, length Length) Part {
	return Part{ID: id, Name: name, Section: section, Count: count, BoardSize: size, Length: length}
}
