package sales

import (
	"errors"
	"testing"

	"github.com/jackc/pgx/v5/pgconn"
	"github.com/stretchr/testify/require"
)

// Each decision about sales is held by the database itself: what breaks it by SQL is
// refused by name.
func TestSchemaRefuses(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	q := w.issued(t, Alternative{Lines: []Line{line("box", 1, 30000)}})
	draft, err := w.QuotePut(t.Context(), Quote{PartyID: q.PartyID, Alternatives: []Alternative{{Lines: []Line{line("box", 1, 1)}}}})
	require.NoError(t, err)
	order, err := w.QuoteAccept(t.Context(), Acceptance{QuoteID: q.ID})
	require.NoError(t, err)
	unit := order.Lines[0].Units[0].ID
	for _, c := range []struct {
		name, constraint, sql string
		args                  []any
	}{
		{"an enquiry of nobody", "enquiry_name_or_number", `INSERT INTO enquiry (happened_at, name, number) VALUES (now(), ' ', '')`, nil},
		{"a change of an issued quote", "quote_issued_stays", `UPDATE quote SET valid_until = valid_until + 1 WHERE id = $1`, []any{q.ID}},
		{"an issued quote taken away", "quote_issued_stays", `DELETE FROM quote WHERE id = $1`, []any{q.ID}},
		{"a line of an issued quote changed", "quote_issued_stays", `UPDATE quote_line SET price_minor = 1 WHERE alternative_id = $1`, []any{q.Alternatives[0].ID}},
		{"a line added to an issued quote", "quote_issued_stays", `INSERT INTO quote_line (alternative_id, position, kind, description) VALUES ($1, 9, 'text', 'x')`, []any{q.Alternatives[0].ID}},
		{"an alternative added to an issued quote", "quote_issued_stays", `INSERT INTO quote_alternative (quote_id, letter) VALUES ($1, 'Z')`, []any{q.ID}},
		{"issued without its paper", "quote_issued_whole", `UPDATE quote SET issued_at = now() WHERE id = $1`, []any{draft.ID}},
		{"a second answer to a quote", "quote_event_once", `INSERT INTO quote_event (quote_id, kind, happened_at) VALUES ($1, 'declined', now())`, []any{q.ID}},
		{"an answer changed", "quote_event_written_once", `UPDATE quote_event SET note = 'x'`, nil},
		{"a yes to nothing", "quote_event_alternative", `INSERT INTO quote_event (quote_id, kind, happened_at) VALUES ($1, 'accepted', now())`, []any{draft.ID}},
		{"a second order of one quote", "sale_order_quote_once", `INSERT INTO sale_order (number, party_id, quote_id, happened_at) VALUES ('S9999', $1, $2, now())`, []any{q.PartyID, q.ID}},
		{"a line whose sum is wrong", "order_line_sum", `UPDATE order_line SET price_minor = price_minor + 1`, nil},
		{"a unit both cancelled and handed over", "order_unit_one_end", `UPDATE order_unit SET cancelled_at = now(), handed_over_at = now() WHERE id = $1`, []any{unit}},
		{"a unit back before it went", "order_unit_returned_after", `UPDATE order_unit SET returned_at = now() WHERE id = $1`, []any{unit}},
		{"a text of 201 characters", "words_short", `UPDATE party SET name = repeat('x', 201)`, nil},
		{"a site with half a place", "site_both_coordinates", `INSERT INTO site (latitude) VALUES (-27)`, nil},
		{"a record joined to itself", "party_not_itself", `UPDATE party SET joined_into_id = id`, nil},
		{"a paper changed", "document_written_once", `UPDATE document SET number = 'x'`, nil},
	} {
		_, err := w.db.Exec(t.Context(), c.sql, c.args...)
		var pg *pgconn.PgError
		require.True(t, errors.As(err, &pg), "%s was not refused: %v", c.name, err)
		require.Equal(t, c.constraint, pg.ConstraintName, c.name)
	}
}
