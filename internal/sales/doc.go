// Package sales keeps who asked, what was quoted and what was ordered: parties
// with their contacts and sites, enquiries, list prices, quotes and orders with
// their units.
//
// It does not work out prices, dates or needs (package answer does, and hands them
// in), and puts nothing aside (package claims does). What is issued is frozen: a
// quote's later life is an event beside it, and lapsed is computed from its date.
// Start reading at Quote and Order.
package sales

import (
	"time"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Room is the sales room.
type Room struct{ db *postgres.DB }

// New makes the room.
func New(db *postgres.DB) *Room { return &Room{db: db} }

// Limits of texts in characters, as the domains words and prose have them.
const (
	maxWords = 200
	maxProse = 20000
)

func checkWords(l *fault.List, pointer, s string) { l.Text(pointer, s, maxWords) }

func checkProse(l *fault.List, pointer, s string) { l.Text(pointer, s, maxProse) }

// checkMoney keeps amounts within what a workshop can mean; minor units.
func checkMoney(l *fault.List, pointer string, minor int64) {
	l.Check(minor >= 0, pointer, "An amount cannot be negative.")
	l.Check(minor <= 1e11, pointer, "This amount is too large.")
}

// notPast refuses a promised day or a valid-until before today.
func notPast(l *fault.List, pointer string, day *time.Time, today time.Time) {
	l.Check(day == nil || !day.Before(today), pointer, "This day is past. Choose today or later.")
}

func init() {
	for _, e := range []struct {
		constraint        string
		kind              fault.Kind
		pointer, sentence string
	}{
		{"words_short", fault.Invalid, "", "A text is longer than 200 characters. Shorten it."},
		{"prose_bounded", fault.Invalid, "", "A text is longer than 20000 characters. Shorten it."},
		{"enquiry_name_or_number", fault.Invalid, "/name", "Give a name or a phone number, so that you can ring back."},
		{"quote_event_once", fault.Conflict, "", "This quote has already been answered. Look at it again."},
		{"quote_issued_stays", fault.Conflict, "", "An issued quote never changes. Revise it instead."},
		{"quote_number_once", fault.Conflict, "", "This revision of the quote was issued already."},
		{"sale_order_quote_once", fault.Conflict, "", "This quote has become an order already."},
		{"list_price_day_once", fault.Conflict, "/from_on", "There is a price from that day already. Choose another day."},
		{"buyer_class_name_once", fault.Conflict, "/name", "There is a class of that name already."},
		{"party_not_itself", fault.Invalid, "/into_id", "A record cannot be joined to itself."},
		{"site_both_coordinates", fault.Invalid, "/latitude", "Give both latitude and longitude, or neither."},
	} {
		postgres.Explain(e.constraint, e.kind, e.pointer, e.sentence)
	}
}
