package sun

import "kerfbook/internal/calc/contract"

// Topics lists the calculations of this room.
func Topics() []contract.Topic {
	return []contract.Topic{
		contract.New("sun", "where the sun stands at an instant", `{
  "latitude": -27.47, "longitude": 153.03, "at": "2026-06-21T12:00:00+10:00"
}`, Position),
		contract.New("sun-times", "sunrise, noon, sunset and dusk of a day", `{
  "latitude": -27.47, "longitude": 153.03, "on": "2026-06-21", "time_zone": "Australia/Brisbane"
}`, DayTimes),
		contract.New("eave", "hours of sun on a box front under an eave", `{
  "latitude": -27.47, "longitude": 153.03, "eave_out_mm": 600, "eave_above_mm": 900,
  "wall_faces_deg": 0, "on": "2026-06-21"
}`, Eave),
	}
}
