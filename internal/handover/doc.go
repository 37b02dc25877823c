// Package handover keeps the last part of a job: runs with their stops, the handover
// of a unit with its evidence, the questions asked afterwards, and guarantee claims.
//
// It draws no sheet and moves no owner; package answer joins those. No answer to a
// follow-up is unknown, not alive. Start reading at Handover.
package handover

import (
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Room is the handover room.
type Room struct{ db *postgres.DB }

// New makes the room.
func New(db *postgres.DB) *Room { return &Room{db: db} }

func init() {
	for _, e := range []struct {
		constraint        string
		kind              fault.Kind
		pointer, sentence string
	}{
		{"handover_one_a_unit", fault.Conflict, "", "This piece has been handed over already."},
		{"handover_received_by", fault.Invalid, "/received_by", "Say who received it."},
		{"follow_up_once", fault.Conflict, "/due_on", "There is a follow-up on that day already."},
		{"run_stop_opened_after", fault.Invalid, "/opened_at", "The entrance cannot be opened before it was closed."},
		{"run_stop_once", fault.Conflict, "/position", "There is a stop at that place in the run already."},
	} {
		postgres.Explain(e.constraint, e.kind, e.pointer, e.sentence)
	}
}
