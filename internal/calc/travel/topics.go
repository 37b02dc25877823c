package travel

import "kerfbook/internal/calc/contract"

// Topics lists the calculations of this room.
func Topics() []contract.Topic {
	return []contract.Topic{
		contract.New("distance", "how far two places are apart on the ellipsoid", `{
  "from": {"latitude": -27.47, "longitude": 153.03}, "to": {"latitude": -28.01, "longitude": 153.40}
}`, Distance),
		contract.New("run", "the shortest order of a day's stops", `{
  "stops": [
    {"id": "workshop", "latitude": -27.47, "longitude": 153.03},
    {"id": "pick-up", "latitude": -27.62, "longitude": 152.76},
    {"id": "buyer", "latitude": -28.01, "longitude": 153.40},
    {"id": "club", "latitude": -27.23, "longitude": 153.11}
  ],
  "start": "workshop", "before": [["pick-up", "buyer"]]
}`, Run),
	}
}
