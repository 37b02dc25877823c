package sawing

import "kerfbook/internal/calc/contract"

// Topics lists the calculations of this room.
func Topics() []contract.Topic {
	return []contract.Topic{
		contract.New("log-volume", "Solid volume of a log from its diameters",
			`{"length_mm": 3600, "small_mm": 420, "large_mm": 480, "method": "cone"}`, LogVolume),
	}
}
