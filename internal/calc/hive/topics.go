package hive

import (
	"encoding/json"

	"kerfbook/internal/calc/contract"
)

// Topics lists the calculations of this room.
func Topics() []contract.Topic {
	return []contract.Topic{
		contract.New("hive", "Parts, inner volume, mass and warmth of a box model", example(), Hive),
	}
}

// example is a ready model in boards that came out a little thick.
func example() string {
	thickness, mc := 25.5, 14.0
	raw, err := json.MarshalIndent(HiveIn{
		Model: Ready()[0].Model, Species: UsualSpecies, ThicknessMM: &thickness, MCPct: &mc,
	}, "", "  ")
	if err != nil {
		panic(err) // a literal of ours that JSON cannot write
	}
	return string(raw)
}
