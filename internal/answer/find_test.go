package answer_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
	"kerfbook/internal/postgres/pgtest"
)

var owner = access.Person{ID: 1, Role: access.Owner}

// bigBook has many parties, callers, orders and boxes, so that a statement without its
// index shows.
func bigBook(t *testing.T) *postgres.DB {
	t.Helper()
	db := pgtest.DB(t)
	for _, sql := range []string{
		`INSERT INTO party (name, town) SELECT 'Person ' || i || ' Name' || (i % 700), 'Town' || (i % 90) FROM generate_series(1, 8000) i`,
		`INSERT INTO contact (party_id, kind, value, normal) SELECT id, 'phone', '04' || (10000000 + id), '+614' || (10000000 + id) FROM party`,
		`INSERT INTO enquiry (happened_at, name, place, number, number_normal) SELECT now(), 'Caller ' || i, 'Place', '07' || (40000000 + i), '+617' || (40000000 + i) FROM generate_series(1, 8000) i`,
		`INSERT INTO sale_order (number, party_id, happened_at) SELECT 'S' || id, id, now() FROM party`,
		`INSERT INTO box (serial, finished_at) SELECT (100000 + i)::text, now() FROM generate_series(1, 8000) i`,
		`ANALYZE party, contact, enquiry, sale_order, box`,
	} {
		_, err := db.Exec(t.Context(), sql)
		require.NoError(t, err)
	}
	return db
}

func TestFind(t *testing.T) {
	t.Parallel()
	db := bigBook(t)
	t.Run("indexes", func(t *testing.T) { findIsServedByIndexes(t, db) })
	f := answer.NewFinder(db)
	tests := []struct {
		name, text string
		kinds      string // of the hits in turn
		titles     string
	}{
		{"an order number", "s1234", "order", "S1234"},
		{"digits alone", "S 1234", "order", "S1234"},
		{"a serial", "102567", "box", "102567"},
		{"a local phone number", "0410006345", "party", "Person 6345 Name45"},
		{"the same with the country", "+61 4 1000 6345", "party", "Person 6345 Name45"},
		{"its end", "10006345", "party", "Person 6345 Name45"},
		{"somebody who rang", "07 4000 0077", "enquiry", "Caller 77"},
		{"beginnings of words", "pers 6771 town", "party", "Person 6771 Name471"},
		{"nothing", "", "", ""},
		{"signs", `'; & | ! ( ) :* \ %`, "", ""},
		{"no words left", "!!!", "", ""},
		{"too long", strings.Repeat("a", 300), "", ""},
	}
	for _, tt := range tests {
		hits, err := f.Find(t.Context(), owner, tt.text)
		require.NoError(t, err, tt.name)
		var kinds, titles []string
		for _, h := range hits {
			kinds, titles = append(kinds, h.Kind), append(titles, h.Title)
		}
		require.Equal(t, tt.kinds, strings.Join(kinds, " "), "%s: %v", tt.name, hits)
		require.Equal(t, tt.titles, strings.Join(titles, " "), tt.name)
	}
	many, err := f.Find(t.Context(), owner, "person")
	require.NoError(t, err)
	require.Len(t, many, 20)
	none, err := f.Find(t.Context(), access.Person{ID: 2, Role: access.Helper}, "s1234")
	require.NoError(t, err)
	require.Empty(t, none, "orders are not for a helper")
	box, err := f.Find(t.Context(), access.Person{ID: 2, Role: access.Helper}, "102567")
	require.NoError(t, err)
	require.Len(t, box, 1)
}

// No statement reads a table through.
func findIsServedByIndexes(t *testing.T, db *postgres.DB) {
	for _, sql := range answer.FindStatements() {
		var plan strings.Builder
		rows, err := db.Query(t.Context(), "EXPLAIN "+sql)
		require.NoError(t, err, sql)
		for rows.Next() {
			var line string
			require.NoError(t, rows.Scan(&line))
			plan.WriteString(line + "\n")
		}
		require.NoError(t, rows.Err())
		for _, table := range []string{"party", "contact", "enquiry", "sale_order", "box"} {
			require.NotContains(t, plan.String(), "Seq Scan on "+table+" ", "%s\n%s", sql, plan.String())
		}
	}
}

func TestDayBook(t *testing.T) {
	t.Parallel()
	db := pgtest.DB(t)
	b := answer.NewDayBook(db)
	ctx := t.Context()
	day := time.Date(2026, 3, 3, 0, 0, 0, 0, time.UTC)
	lines := []answer.DayLine{
		{Subject: "a", Due: day.AddDate(0, 0, 2)}, {Subject: "b"}, {Subject: "c", Due: day}, {Subject: "d", Due: day.AddDate(0, 0, -1), Late: true},
	}
	left := func(on time.Time) string {
		list, err := b.Left(ctx, on, lines)
		require.NoError(t, err)
		s := ""
		for _, l := range list {
			s += l.Subject
		}
		return s
	}
	require.Equal(t, "dcab", left(day), "late first, then by date, undated last")
	require.NoError(t, b.PutOff(ctx, "c", day, day.AddDate(0, 0, 7)))
	require.NoError(t, b.MarkDone(ctx, "b"))
	require.Equal(t, "da", left(day))
	require.Equal(t, "da", left(day.AddDate(0, 0, 6)))
	require.Equal(t, "dca", left(day.AddDate(0, 0, 7)), "back on its day")
	require.NoError(t, b.Restore(ctx, "b"))
	require.Equal(t, "dab", left(day))
	require.Equal(t, fault.Invalid, fault.KindOf(b.PutOff(ctx, "c", day, day)))
	require.Equal(t, fault.Invalid, fault.KindOf(b.MarkDone(ctx, "")))
}
