package books

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/fault"
)

func TestStandingCostFallsOnItsDays(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		every, next, from, before string
		want                      []string
	}{
		{"week", "2026-03-04", "2026-03-02", "2026-03-16", []string{"2026-03-04", "2026-03-11"}},
		{"fortnight", "2026-01-07", "2026-03-02", "2026-04-01", []string{"2026-03-04", "2026-03-18"}},
		{"month", "2026-01-31", "2026-02-01", "2026-05-01", []string{"2026-02-28", "2026-03-31", "2026-04-30"}},
		{"month", "2027-12-31", "2028-02-01", "2028-03-01", []string{"2028-02-29"}},
		{"quarter", "2025-11-30", "2026-02-01", "2026-06-01", []string{"2026-02-28", "2026-05-30"}},
		{"year", "2024-02-29", "2026-01-01", "2028-12-31", []string{"2026-02-28", "2027-02-28", "2028-02-29"}},
		{"month", "2026-09-10", "2026-03-01", "2026-04-01", []string{"2026-03-10"}},
	} {
		var got []string
		for _, day := range (StandingCost{Every: c.every, NextOn: on(c.next)}).due(on(c.from), on(c.before)) {
			got = append(got, day.Format(time.DateOnly))
		}
		require.Equal(t, c.want, got, "every %s from %s", c.every, c.next)
	}
}

func TestMoneyOfTheComingWeeks(t *testing.T) {
	t.Parallel()
	w := newWorld(t, true) // Monday 2 March 2026
	promise := func(order int64, day string) {
		_, err := w.db.Exec(t.Context(), `UPDATE order_unit SET promised_box_on = $2::date WHERE order_line_id IN (SELECT id FROM order_line WHERE order_id = $1)`, order, day)
		require.NoError(t, err)
	}
	near, late, far := w.order(t, 1, 10000, 1000), w.order(t, 1, 20000, 2000), w.order(t, 1, 30000, 3000)
	promise(near, "2026-03-12")
	promise(late, "2026-02-01")
	promise(far, "2026-12-01")
	w.order(t, 1, 40000, 4000) // no day
	_, err := w.PaymentMake(t.Context(), Payment{OrderID: near, Kind: "deposit", Method: "cash", AmountMinor: 3000}, nil)
	require.NoError(t, err)
	_, err = w.StandingCostSave(t.Context(), StandingCost{Name: "Rent", AmountMinor: 5000, Every: "month", NextOn: on("2026-01-10")})
	require.NoError(t, err)
	_, err = w.db.Exec(t.Context(), `WITH p AS (INSERT INTO purchase (ordered_on, expected_on) VALUES ('2026-02-20', '2026-03-20') RETURNING id)
INSERT INTO purchase_line (purchase_id, description, quantity, cost_ex_tax_minor, tax_minor) SELECT id, 'Screws', 1, 2000, 200 FROM p`)
	require.NoError(t, err)
	a, err := w.Ahead(t.Context(), 100000)
	require.NoError(t, err)
	require.Equal(t, []int64{3000, 33000, 44000}, []int64{a.HeldMinor, a.Later, a.NoDay})
	require.Len(t, a.Weeks, 12)
	require.Equal(t, AheadWeek{FirstOn: on("2026-03-02"), In: 22000, EndWith: 122000}, a.Weeks[0], "what is late is expected at once")
	require.Equal(t, AheadWeek{FirstOn: on("2026-03-09"), In: 8000, Out: 5000, EndWith: 125000}, a.Weeks[1])
	require.Equal(t, int64(2200), a.Weeks[2].Out)
	require.Equal(t, int64(100000+22000+8000-5000*3-2200), a.Weeks[11].EndWith, "rent in March, April and May")
	require.True(t, a.Lines[0].Late)
	for _, bad := range []StandingCost{{Name: " ", AmountMinor: 1, Every: "month", NextOn: noon}, {Name: "x", Every: "month", NextOn: noon}, {Name: "x", AmountMinor: 1, Every: "moon", NextOn: noon}, {Name: "x", AmountMinor: 1, Every: "month"}} {
		_, err := w.StandingCostSave(t.Context(), bad)
		require.True(t, fault.Is(err, fault.Invalid), "%+v", bad)
	}
}
