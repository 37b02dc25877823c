package apiary

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/fault"
)

// Source: the calendar, worked by hand.
func TestAboutReadsAYearAMonthOrADecade(t *testing.T) {
	t.Parallel()
	brisbane := time.FixedZone("Brisbane", 36000)
	for _, c := range []struct{ text, on, wrong string }{
		{"about 1961", "1961-07-02", ""},
		{"1961", "1961-07-02", ""},
		{"ca. 1961?", "1961-07-02", ""},
		{"March 2004", "2004-03-16", ""},
		{"some day in feb 2000", "2000-02-15", ""},
		{"the 1960s", "1964-12-31", ""},
		{"1961s", "1961-07-02", ""},
		{"about 2026", "2026-07-02", ""},
		{"November 2026", "2026-11-02", ""}, // its middle is still to come: now
		{"about 2027", "", "future"},
		{"December 2026", "", "future"},
		{"2031", "", "future"},
		{"when grandfather was young", "", "about which year"},
		{"19611", "", "about which year"},
		{"", "", "about which year"},
		{"about 0961", "", "about which year"},
	} {
		at, err := aboutAt("/about", c.text, noon, brisbane)
		if c.wrong != "" {
			require.True(t, fault.Is(err, fault.Invalid), c.text)
			require.ErrorContains(t, err, c.wrong, c.text)
			continue
		}
		require.NoError(t, err, c.text)
		require.Equal(t, c.on, at.In(brisbane).Format(time.DateOnly), c.text)
		require.False(t, at.After(noon), c.text)
	}
}

func FuzzAbout(f *testing.F) {
	for _, s := range []string{"about 1961", "the 1960s", "Mar 2004", "2299", "1800s", "\x00 1999"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		a, ok := aboutOf(text)
		if ok && !a.Until.After(a.From) {
			t.Fatalf("%q: %v is not before %v", text, a.From, a.Until)
		}
		if at, err := aboutAt("/about", text, noon, time.UTC); err == nil && (at.After(noon) || at.Before(a.From)) {
			t.Fatalf("%q: %v", text, at)
		}
	})
}
