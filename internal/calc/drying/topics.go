package drying

import "kerfbook/internal/calc/contract"

// Topics lists the calculations of this room.
func Topics() []contract.Topic {
	return []contract.Topic{
		contract.New("drying", "When a pack of boards will be dry, and how sure that is", example, Drying),
	}
}

const example = `{
  "stacked_on": "2026-08-10",
  "thickness_mm": 32,
  "species": "hoop-pine",
  "start_mc_pct": 65,
  "target_mc_pct": 15,
  "climate": [
    {"temperature_c": 25, "humidity_pct": 68}, {"temperature_c": 25, "humidity_pct": 70},
    {"temperature_c": 23.5, "humidity_pct": 69}, {"temperature_c": 21, "humidity_pct": 68},
    {"temperature_c": 18, "humidity_pct": 68}, {"temperature_c": 15.5, "humidity_pct": 67},
    {"temperature_c": 14.5, "humidity_pct": 64}, {"temperature_c": 15.5, "humidity_pct": 61},
    {"temperature_c": 18.5, "humidity_pct": 60}, {"temperature_c": 20.5, "humidity_pct": 63},
    {"temperature_c": 22.5, "humidity_pct": 65}, {"temperature_c": 24, "humidity_pct": 66}
  ],
  "readings": [{"on": "2026-09-14", "mc_pct": 31}, {"on": "2026-10-12", "mc_pct": 22}]
}`
