package answer

import (
	"fmt"
	"math"
	"strings"
	"time"

	"kerfbook/internal/apiary"
	"kerfbook/internal/calc/waiting"
	"kerfbook/internal/show"
)

// learntBees says in a sentence how splits go, and what that is known from.
func learntBees(r waiting.Rates) string {
	if !r.Usable {
		return "Nothing can be said about splits: the kind has no figures for its rest, season and settling, and the log is too short."
	}
	from := "by the figures of the kind alone, because no split stands in the log yet"
	if r.FatesSeen > 0 {
		from = fmt.Sprintf("as far as the figures of the kind and %s of the log tell", show.Count(int64(r.FatesSeen), "split", "splits"))
	}
	return fmt.Sprintf("A colony is split about every %d months and the split settles in about %d weeks; %d in 100 settle; %s. The date leaves room for a bad season, which hits all at once.",
		int(math.Round(r.RestMonths())), int(math.Round(r.SettlingWeeks())), int(math.Round(100*r.SplitChance())), from)
}

// keepHint says what to do where nothing is kept to be split.
func keepHint(h apiary.Herd) string {
	if len(h.Kept) > 0 {
		return ""
	}
	return " None is kept to be split: say on the page of a colony which ones you keep, and a later date can be told."
}

var ordinals = []string{"first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth"}

// ordinal is a place in words.
func ordinal(n int) string {
	if n >= 1 && n <= len(ordinals) {
		return ordinals[n-1]
	}
	suffix := "th"
	if n%100 < 11 || n%100 > 13 {
		switch n % 10 {
		case 1:
			suffix = "st"
		case 2:
			suffix = "nd"
		case 3:
			suffix = "rd"
		}
	}
	return fmt.Sprintf("%d%s", n, suffix)
}

// monthNames are months in words, from the first of the season on: the one after the
// longest break.
func monthNames(months []int) string {
	first, longest := 0, 0
	for i, m := range months {
		before := months[(i+len(months)-1)%len(months)]
		if gap := (m - before + 12) % 12; gap > longest {
			first, longest = i, gap
		}
	}
	var list []string
	for i := range months {
		list = append(list, time.Month(months[(first+i)%len(months)]).String()[:3])
	}
	return strings.Join(list, ", ")
}
