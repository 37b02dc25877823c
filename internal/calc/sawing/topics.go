package sawing

import "kerfbook/internal/calc/contract"

// Topics lists the calculations of this room.
func Topics() []contract.Topic {
	return []contract.Topic{
		contract.New("log-volume", "Solid volume of a log from its diameters",
			`{"length_mm": 3600, "small_mm": 420, "large_mm": 480, "method": "cone"}`, LogVolume),
		contract.New("sawing", "The boards of greatest value in a log, and where they lie", `{
  "small_end_mm": 420, "large_end_mm": 470, "length_mm": 3600, "kerf_mm": 3, "heart_box_mm": 60, "mill_limit_mm": 600,
  "boards": [
    {"id": "200x32", "width_mm": 200, "thickness_mm": 32, "value": 7.2},
    {"id": "110x32", "width_mm": 110, "thickness_mm": 32, "value": 3.4, "min_length_mm": 900}
  ]
}`, Pattern),
	}
}
