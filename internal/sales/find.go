package sales

import (
	"context"
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// findQuery turns typed words into a text search for words that begin so; "" when
// nothing but digits or marks was typed.
func findQuery(typed string) string {
	if findDigits(typed) != "" {
		return ""
	}
	words := strings.FieldsFunc(strings.ToLower(typed), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	for i, w := range words {
		words[i] = w + ":*"
	}
	return strings.Join(words[:min(len(words), 6)], " & ")
}

// fewMatches is up to how many rows with a word are looked up by their ids; of a word that
// more rows share, a page is soon found by walking the list.
const fewMatches = 1000

// wordIDs gives the ids of the rows of table (party or enquiry) in which the words of
// query begin, and true; false when there are many. The planner takes every word for one
// that many share, and would walk the whole list for a rare one.
func wordIDs(ctx context.Context, q postgres.Querier, table, query string) ([]int64, bool, error) {
	ids, err := postgres.Column[int64](ctx, q, `SELECT id FROM `+table+` WHERE find @@ to_tsquery('simple', $1) LIMIT `+strconv.Itoa(fewMatches+1), query)
	return ids, len(ids) <= fewMatches, err
}

// findDigits gives the digits of what looks like a phone number, without the
// leading zero that a number loses in its international form; else "".
func findDigits(typed string) string {
	typed = strings.TrimSpace(typed)
	if typed == "" || strings.Trim(typed, "+0123456789 ()-./") != "" {
		return ""
	}
	d := digits(typed)
	if len(d) < 4 {
		return ""
	}
	return strings.TrimPrefix(d, "0")
}

// farFuture is before every row of a list that runs from the newest.
var farFuture = time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC)

func timeMark(at time.Time, id int64) postgres.Mark {
	return postgres.Mark{Key: at.Format(time.RFC3339Nano), ID: id}
}

// cursorTime reads the mark of a list from the newest to the oldest.
func cursorTime(s string) (time.Time, int64, error) {
	m, err := postgres.ReadMark(s)
	if err != nil || s == "" {
		return farFuture, 1 << 62, err
	}
	at, err := time.Parse(time.RFC3339Nano, m.Key)
	if err != nil {
		return at, 0, fault.Bad("/after", "This page mark is not one of ours. Start the list again.")
	}
	return at, m.ID, nil
}

// conditions gathers the parts of a WHERE clause with their arguments, so that each
// list runs the statement that its index serves and no other.
type conditions struct {
	sql  []string
	args []any
}

// and adds a condition; each ? in it stands for the next of args.
func (c *conditions) and(cond string, args ...any) {
	for _, a := range args {
		c.args = append(c.args, a)
		cond = strings.Replace(cond, "?", fmt.Sprintf("$%d", len(c.args)), 1)
	}
	c.sql = append(c.sql, cond)
}

// andWords adds that the words of query begin in a row of table: column is the one that
// holds its id, find the one that holds its words.
func (c *conditions) andWords(ctx context.Context, q postgres.Querier, table, column, find, query string) error {
	ids, few, err := wordIDs(ctx, q, table, query)
	if few {
		c.and(column+` = ANY(?)`, ids)
	} else {
		c.and(find+` @@ to_tsquery('simple', ?)`, query)
	}
	return err
}

func (c *conditions) String() string { return strings.Join(c.sql, " AND ") }
