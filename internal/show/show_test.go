package show_test

import (
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/show"
)

// Expected texts: written by hand from the rule in the doc comment.
func TestMoney(t *testing.T) {
	t.Parallel()
	aud := show.Currency{Code: "AUD", MinorDigits: 2}
	tests := []struct {
		name  string
		c     show.Currency
		minor int64
		want  string
	}{
		{"cents", aud, 5, "$0.05"},
		{"thousands", aud, 123456789, "$1,234,567.89"},
		{"owed", aud, -4200, "-$42.00"},
		{"no minor unit", show.Currency{Code: "JPY"}, 1500, "¥1,500"},
		{"a code", show.Currency{Code: "CHF", MinorDigits: 2}, 1250, "CHF\u00a012.50"},
	}
	for _, tt := range tests {
		require.Equal(t, tt.want, tt.c.Money(tt.minor), tt.name)
		back, ok := tt.c.Parse(tt.c.Plain(tt.minor))
		require.True(t, ok, tt.name)
		require.Equal(t, tt.minor, back, tt.name)
	}
}

func TestParse(t *testing.T) {
	t.Parallel()
	aud := show.Currency{Code: "AUD", MinorDigits: 2}
	good := map[string]int64{"80": 8000, " $1,234.50 ": 123450, "AUD 3.5": 350, "-2": -200}
	for text, want := range good {
		got, ok := aud.Parse(text)
		require.True(t, ok, text)
		require.Equal(t, want, got, text)
	}
	for _, text := range []string{"", "eighty", "1.005", "1e9", "1e999999999", "99999999999999999999", "NaN", "Inf", "1-2", "--1"} {
		_, ok := aud.Parse(text)
		require.False(t, ok, text)
	}
	d, ok := show.Decimal("12,5", 1)
	require.True(t, ok)
	require.Equal(t, "12.5", d.String())
	_, ok = show.Decimal("12.55", 1)
	require.False(t, ok)
}

func TestDatesSizesAndCounts(t *testing.T) {
	t.Parallel()
	day := time.Date(2026, 3, 3, 0, 0, 0, 0, time.UTC)
	require.Equal(t, "Tue 3 Mar 2026", show.Date(day)) // calendar: 3 March 2026 is a Tuesday
	require.Equal(t, "not said", show.DateOr(nil, "not said"))
	brisbane, err := time.LoadLocation("Australia/Brisbane")
	require.NoError(t, err)
	require.Equal(t, "Wed 4 Mar 2026, 00:30", show.Time(day.Add(14*time.Hour+30*time.Minute), brisbane)) // UTC+10 all year
	require.Equal(t, "190 × 25.5 mm", show.BoardSize(decimal.NewFromInt(190), decimal.RequireFromString("25.50")))
	require.Equal(t, "1 box", show.Count(1, "box", "boxes"))
	require.Equal(t, "1,200 boxes", show.Count(1200, "box", "boxes"))
	require.Equal(t, "1 h 30 min", show.Minutes(90))
	require.Equal(t, "2 h", show.Minutes(120))
}
