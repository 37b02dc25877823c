// Package apiary keeps the living half: kinds of bees, colonies with their dwelling,
// owner, keeper and parents, host trees, and what may be promised of them and when.
//
// It puts nothing aside (package claims does) and knows nothing of buyers beyond the
// ids of owners and keepers; nil stands for the workshop. Housing, owners and places
// are dated rows; nothing is overwritten. Start reading at Colony.
package apiary

import (
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Room is the apiary room.
type Room struct {
	db     *postgres.DB
	learnt ratesMemo
}

// New makes the room.
func New(db *postgres.DB) *Room { return &Room{db: db} }

const (
	maxWords = 200
	maxProse = 20000
)

func init() {
	for _, e := range []struct {
		constraint        string
		kind              fault.Kind
		pointer, sentence string
	}{
		{"colony_parent_no_ring", fault.Conflict, "/parent_id", "A colony cannot be its own ancestor."},
		{"colony_parent_not_itself", fault.Conflict, "/parent_id", "A colony cannot be its own parent."},
		{"colony_parent_once", fault.Conflict, "/parent_id", "This parent is noted already."},
		{"housing_one_a_box", fault.Conflict, "/box_id", "Another colony lives in this box already."},
		{"housing_one_a_colony", fault.Conflict, "/box_id", "This colony lives somewhere else by the book. Move it from there."},
		{"bee_species_code_once", fault.Conflict, "/code", "There is a kind of bee with this short name already."},
		{"colony_number_once", fault.Conflict, "/number", "There is a colony of this number already."},
	} {
		postgres.Explain(e.constraint, e.kind, e.pointer, e.sentence)
	}
}
