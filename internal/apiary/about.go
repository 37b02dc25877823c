package apiary

import (
	"regexp"
	"strconv"
	"strings"
	"time"

	"kerfbook/internal/fault"
)

var (
	aboutYear  = regexp.MustCompile(`(?:^|\D)((?:1[89]|2[012])\d\d)(s?)(?:\D|$)`)
	aboutMonth = regexp.MustCompile(`(?i)\b(jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*\b`)
)

// about is a time that is known about: a month, a year or ten years of it.
type about struct{ From, Until time.Time } // dates; Until is the first day after it

// aboutOf reads a time in words, such as "about 1961", "March 2004" or "the 1960s", by
// its year, with a month where one is named; false when there is no year in it, from 1800
// to 2299.
func aboutOf(text string) (about, bool) {
	m := aboutYear.FindStringSubmatch(text)
	if m == nil {
		return about{}, false
	}
	year, err := strconv.Atoi(m[1])
	if err != nil {
		return about{}, false
	}
	a := about{time.Date(year, 1, 1, 0, 0, 0, 0, time.UTC), time.Date(year+1, 1, 1, 0, 0, 0, 0, time.UTC)}
	switch month := aboutMonth.FindString(text); {
	case m[2] == "s" && year%10 == 0:
		a.Until = a.From.AddDate(10, 0, 0)
	case month != "":
		on, err := time.Parse("Jan", strings.ToUpper(month[:1])+strings.ToLower(month[1:3]))
		if err == nil {
			a.From = time.Date(year, on.Month(), 1, 0, 0, 0, 0, time.UTC)
			a.Until = a.From.AddDate(0, 1, 0)
		}
	}
	return a, true
}

// checkAbout refuses a time in words that lies in the future, or is too long; words
// without a year are left as they are.
func checkAbout(l *fault.List, pointer, text string, today time.Time) {
	if !l.Text(pointer, strings.TrimSpace(text), maxWords) {
		return
	}
	if a, ok := aboutOf(text); ok {
		l.Check(!a.From.After(today), pointer, "This lies in the future.")
	}
}

// aboutAt is the instant under which something known about stands in a log: the middle of
// it, or now when that is still to come. Errors: Invalid at the pointer, without a year or
// in the future.
func aboutAt(pointer, text string, now time.Time, loc *time.Location) (time.Time, error) {
	var l fault.List
	a, ok := aboutOf(text)
	l.Text(pointer, strings.TrimSpace(text), maxWords)
	l.Check(ok, pointer, "Write about which year, such as about 1961.")
	if err := l.Err(); err != nil {
		return time.Time{}, err
	}
	if a.From.After(now.In(loc)) {
		return time.Time{}, fault.Bad(pointer, "This lies in the future.")
	}
	days := int(a.Until.Sub(a.From).Hours() / 24)
	mid := a.From.AddDate(0, 0, days/2)
	at := time.Date(mid.Year(), mid.Month(), mid.Day(), 12, 0, 0, 0, loc)
	if at.After(now) {
		at = now
	}
	return at, nil
}
