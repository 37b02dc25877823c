package wood

import "kerfbook/internal/calc/contract"

// Topics lists the calculations of this room.
func Topics() []contract.Topic {
	return []contract.Topic{
		contract.New("moisture", "The moisture content wood settles at in air",
			`{"temperature_c": 24, "humidity_pct": 65}`, Moisture),
		contract.New("shrinkage", "A size at another moisture content",
			`{"size_mm": 150, "from_mc_pct": 60, "to_mc_pct": 12, "species": "hoop-pine", "grain": "tangential"}`, Shrinkage),
		contract.New("sawn-size", "The green size to saw for a dressed size",
			`{"dressed_mm": 25, "planing_mm": 4, "to_mc_pct": 12, "total_shrinkage_pct": 3.8, "shrinkage_to_mc_pct": 12, "saw_variation_mm": 1}`, SawnSize),
		contract.New("density", "What wood weighs and how it conducts heat",
			`{"specific_gravity": 0.5, "mc_pct": 12}`, Density),
	}
}
