package answer

import (
	"context"
	"strings"
)

// FindStatements gives every statement of the find line with an argument in place.
func FindStatements() []string {
	var list []string
	for arg, parts := range map[string][]findPart{"'{1234,S1234}'": byNumber, "'12345678'": byDigits, "'6771:* & town:*'": byWords} {
		for _, p := range parts {
			list = append(list, strings.ReplaceAll(p.sql, "$1", arg))
		}
	}
	return list
}

// ReadTable reads a table of people and gives how many lines it has.
func ReadTable(body []byte) (int, error) {
	t, err := readTable(body, TableKinds[0].Columns, TableKinds[0].Need)
	return len(t.rows), err
}

// OrderedMinutes gives the minutes of boxes that are ordered and not on the bench yet.
func (r *Room) OrderedMinutes(ctx context.Context) (float64, error) {
	set, today, err := r.settings(ctx)
	if err != nil {
		return 0, err
	}
	b, err := r.readBench(ctx, set, today)
	return b.orderedMin, err
}
