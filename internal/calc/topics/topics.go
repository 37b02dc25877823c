// Package topics lists every calculation, in alphabetical order, for the
// command and the REST route.
package topics

import (
	"sort"

	"kerfbook/internal/calc/contract"
	"kerfbook/internal/calc/costing"
	"kerfbook/internal/calc/cutting"
	"kerfbook/internal/calc/drying"
	"kerfbook/internal/calc/hive"
	"kerfbook/internal/calc/planning"
	"kerfbook/internal/calc/promise"
	"kerfbook/internal/calc/sawing"
	"kerfbook/internal/calc/sun"
	"kerfbook/internal/calc/supply"
	"kerfbook/internal/calc/survival"
	"kerfbook/internal/calc/travel"
	"kerfbook/internal/calc/wood"
)

// All gives every topic, sorted by name.
func All() []contract.Topic {
	var all []contract.Topic
	for _, room := range rooms {
		all = append(all, room()...)
	}
	sort.Slice(all, func(i, j int) bool { return all[i].Name < all[j].Name })
	return all
}

// Find gives the topic called name.
func Find(name string) (contract.Topic, bool) {
	for _, t := range All() {
		if t.Name == name {
			return t, true
		}
	}
	return contract.Topic{}, false
}

// rooms holds one function per calc room.
var rooms = []func() []contract.Topic{
	planning.Topics,
	promise.Topics,
	sawing.Topics,
	sun.Topics,
	supply.Topics,
	survival.Topics,
	travel.Topics,
	wood.Topics,
	costing.Topics,
	drying.Topics,
	hive.Topics,
	cutting.Topics,
}
