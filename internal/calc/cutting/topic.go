package cutting

import "kerfbook/internal/calc/contract"

// Topics lists the room's one calculation, "cutting".
func Topics() []contract.Topic {
	return []contract.Topic{contract.New("cutting",
		"which boards to cut into which parts, what comes back, and a proof that no plan needs less",
		example, Plan)}
}

const example = `{
  "kerf_mm": 3.2,
  "trim_mm": 10,
  "keep_offcut_mm": 400,
  "boards": [
    {"id": "rack 2400", "length_mm": 2400, "count": 6},
    {"id": "rack 3000", "length_mm": 3000, "count": 4},
    {"id": "offcut 910", "length_mm": 910, "count": 1, "offcut": true, "age_days": 40}
  ],
  "parts": [
    {"id": "long side", "length_mm": 430, "count": 12},
    {"id": "short side", "length_mm": 246, "count": 12},
    {"id": "floor", "length_mm": 398, "count": 6},
    {"id": "roof", "length_mm": 482, "count": 6}
  ]
}`
