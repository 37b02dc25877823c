package survival

import "kerfbook/internal/calc/contract"

// Topics lists the calculations of this room.
func Topics() []contract.Topic {
	return []contract.Topic{
		contract.New("survival", "how many colonies live after so many days, from lives partly seen", `{
  "lives": [{"days": 60, "lost": true}, {"days": 60}, {"days": 365}, {"days": 200, "lost": true}, {"days": 14}],
  "at_days": [60, 365]
}`, Survival),
	}
}
