// Package books keeps the money: deposits, payments and refunds against orders, and
// issued invoices whose numbers have no gaps.
//
// It works out no prices (they stand on the order's lines as agreed) and is no
// accountant's program. Payments and invoices are written once. Start at Payment.
package books

import (
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Room is the books room.
type Room struct{ db *postgres.DB }

// New makes the room.
func New(db *postgres.DB) *Room { return &Room{db: db} }

func init() {
	for _, e := range []struct {
		constraint        string
		kind              fault.Kind
		pointer, sentence string
	}{
		{"payment_amount", fault.Invalid, "/amount_minor", "An amount is more than nothing."},
		{"payment_in_kind", fault.Invalid, "/in_kind", "Say what was given instead of money."},
		{"invoice_number_once", fault.Conflict, "", "There is an invoice of this number already."},
	} {
		postgres.Explain(e.constraint, e.kind, e.pointer, e.sentence)
	}
}
