package answer

import (
	"context"
	"fmt"
	"strings"
	"time"

	"kerfbook/internal/apiary"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/paper"
	"kerfbook/internal/show"
)

// longestRecord is the longest time one movement record is drawn for, in years; our choice:
// longer than any authority asks records to be kept for.
const longestRecord = 10

// MoveRecord is the movement record of some days, both with it.
type MoveRecord struct {
	From, To time.Time
	List     []apiary.Movement // newest first
	Moves    []MoveTogether    // oldest first
}

// MoveTogether are colonies that went the same way at the same time.
type MoveTogether struct {
	HappenedAt         time.Time
	From, To, ToName   string
	PermitNumber, Note string
	Colonies, Kinds    []string // numbers; kinds of bees, each once
}

// Movements gives the movement record from one day to another, both with it, in the
// workshop's zone. Errors: Invalid for a day that is missing, a time that ends before it
// begins or is longer than ten years, and for more than [apiary.MovementsMost] moves.
func (r *Room) Movements(ctx context.Context, from, to time.Time) (MoveRecord, error) {
	out := MoveRecord{From: from, To: to}
	var l fault.List
	ok := l.Check(!from.IsZero(), "/from", "Write the first day.") && l.Check(!to.IsZero(), "/to", "Write the last day.")
	if ok {
		l.Check(!to.Before(from), "/to", "The time ends before it begins. Swap the days.")
		l.Check(to.Before(from.AddDate(longestRecord, 0, 0)), "/from", "Choose at most %d years at once.", longestRecord)
	}
	if err := l.Err(); err != nil {
		return out, err
	}
	set, err := house.SettingsIn(ctx, r.db)
	if err != nil {
		return out, err
	}
	begin := func(d time.Time) time.Time {
		return time.Date(d.Year(), d.Month(), d.Day(), 0, 0, 0, 0, set.Location())
	}
	if out.List, err = r.Apiary.MovementList(ctx, begin(from), begin(to.AddDate(0, 0, 1))); err != nil {
		return out, err
	}
	for i := len(out.List) - 1; i >= 0; i-- {
		out.put(out.List[i])
	}
	return out, nil
}

// put adds a line to the moves, to the last of them when it went along.
func (m *MoveRecord) put(x apiary.Movement) {
	if n := len(m.Moves); n > 0 {
		last := &m.Moves[n-1]
		if last.HappenedAt.Truncate(time.Minute).Equal(x.HappenedAt.Truncate(time.Minute)) && last.From == x.FromPlace && last.To == x.ToPlace && last.ToName == x.ToName && last.PermitNumber == x.PermitNumber && last.Note == x.Note {
			last.Colonies, last.Kinds = append(last.Colonies, x.Number), withNew(last.Kinds, x.Species)
			return
		}
	}
	m.Moves = append(m.Moves, MoveTogether{HappenedAt: x.HappenedAt, From: x.FromPlace, To: x.ToPlace, ToName: x.ToName, PermitNumber: x.PermitNumber, Note: x.Note,
		Colonies: []string{x.Number}, Kinds: withNew(nil, x.Species)})
}

func withNew(list []string, s string) []string {
	for _, x := range list {
		if x == s {
			return list
		}
	}
	return append(list, filled(s)...)
}

// MovementRecord draws the movement record of some days. Errors: as [Room.Movements].
func (r *Room) MovementRecord(ctx context.Context, from, to time.Time) ([]byte, error) {
	m, err := r.Movements(ctx, from, to)
	if err != nil {
		return nil, err
	}
	head, set, err := r.nowHead(ctx, SpanText(from, to))
	if err != nil {
		return nil, err
	}
	d := paper.MovementsDoc{Head: head, From: paper.Day(from), To: paper.Day(to), Country: set.Country, Total: m.Total()}
	for _, x := range m.Moves {
		row := paper.MovedTogether{When: show.Time(x.HappenedAt, set.Location()), From: x.From, To: x.To, Count: len(x.Colonies), Colonies: strings.Join(x.Colonies, ", "),
			Kinds: strings.Join(x.Kinds, ", "), Permit: x.PermitNumber, Note: x.Note}
		if x.ToName != "" && !strings.Contains(x.To, x.ToName) {
			row.Whom = x.ToName
		}
		d.Rows = append(d.Rows, row)
	}
	return paper.Movements(d)
}

// Total says how many colonies were moved.
func (m MoveRecord) Total() string {
	return show.Count(int64(len(m.List)), "colony", "colonies") + " in " + show.Count(int64(len(m.Moves)), "move", "moves")
}

// SpanText names some days, such as 2026-07-01..2026-09-30; [SpanRead] reads it back.
func SpanText(from, to time.Time) string {
	return from.Format(time.DateOnly) + ".." + to.Format(time.DateOnly)
}

// SpanRead reads two days. Errors: Invalid.
func SpanRead(text string) (from, to time.Time, err error) {
	a, b, _ := strings.Cut(text, "..")
	if from, err = time.Parse(time.DateOnly, strings.TrimSpace(a)); err == nil {
		to, err = time.Parse(time.DateOnly, strings.TrimSpace(b))
	}
	if err != nil {
		return from, to, fault.Bad("/number", "Write two days, such as 2026-07-01..2026-09-30.")
	}
	return from, to, nil
}

// Span is a stretch of days with a name.
type Span struct {
	Name     string
	From, To time.Time
}

// yearBegins is the month in which the financial year begins, by country; elsewhere the
// year of the calendar. Source: Income Tax Assessment Act 1997 (Cth) s 4-10 and Tax
// Administration Act 1994 (NZ), from memory.
var yearBegins = map[string]time.Month{"AU": time.July, "NZ": time.April}

// Spans are the times records are most asked for, as of a day: quarters and financial
// years of a country.
func Spans(country string, day time.Time) []Span {
	quarter := time.Date(day.Year(), (day.Month()-1)/3*3+1, 1, 0, 0, 0, 0, time.UTC)
	begins, ok := yearBegins[country]
	if !ok {
		begins = time.January
	}
	year := time.Date(day.Year(), begins, 1, 0, 0, 0, 0, time.UTC)
	if year.After(day) {
		year = year.AddDate(-1, 0, 0)
	}
	named := func(y time.Time) string {
		if begins == time.January {
			return fmt.Sprintf("Year %d", y.Year())
		}
		return fmt.Sprintf("Financial year %d-%02d", y.Year(), (y.Year()+1)%100)
	}
	span := func(name string, from time.Time, months int) Span {
		return Span{name, from, from.AddDate(0, months, -1)}
	}
	return []Span{span("This quarter", quarter, 3), span("Last quarter", quarter.AddDate(0, -3, 0), 3), span(named(year), year, 12), span(named(year.AddDate(-1, 0, 0)), year.AddDate(-1, 0, 0), 12)}
}
