// Package ical writes calendar feeds after RFC 5545 (iCalendar, 2009). It is a pure
// function of the events it is given: no clock, no database. Instants are written in UTC
// (section 3.3.5, form 2), so that no description of a time zone is needed and a change of
// the clocks moves nothing; whole days are written as dates (section 3.3.4).
//
// Start reading at [Calendar.Bytes].
package ical

import (
	"bytes"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"
)

// Event is one entry of a calendar.
type Event struct {
	UID         string    // stays the same for ever, section 3.8.4.7
	ChangedAt   time.Time // when its record was changed last: DTSTAMP and LAST-MODIFIED
	Sequence    int       // grows with each change, 0 or more, section 3.8.7.4
	Start       time.Time
	End         time.Time // the first instant or day after it; equal to Start or before: none
	WholeDays   bool      // Start and End are dates, in UTC
	Summary     string
	Description string
	Location    string
	Free        bool // it does not take the day's time, section 3.8.2.7
}

// Calendar is a feed.
type Calendar struct {
	Name   string
	Events []Event
}

// Octets is the longest a line may be without its line break, section 3.1.
const Octets = 75

// Bytes gives the feed, lines ended by CRLF and folded at 75 octets.
func (c Calendar) Bytes() []byte {
	var w writer
	w.line("BEGIN", "VCALENDAR")
	w.line("VERSION", "2.0")
	w.line("PRODID", "-//kerfbook//workshop calendar//EN")
	w.line("CALSCALE", "GREGORIAN")
	w.line("X-WR-CALNAME", Text(c.Name))
	for _, e := range c.Events {
		w.event(e)
	}
	w.line("END", "VCALENDAR")
	return w.Bytes()
}

type writer struct{ bytes.Buffer }

// line writes a content line, folded.
func (w *writer) line(name, value string) { w.WriteString(Fold(name + ":" + value)) }

func (w *writer) event(e Event) {
	w.line("BEGIN", "VEVENT")
	w.line("UID", Text(e.UID))
	w.line("DTSTAMP", instant(e.ChangedAt))
	w.line("LAST-MODIFIED", instant(e.ChangedAt))
	w.line("SEQUENCE", strconv.Itoa(max(0, e.Sequence)))
	if e.WholeDays {
		w.line("DTSTART;VALUE=DATE", e.Start.Format("20060102"))
		if e.End.After(e.Start) {
			w.line("DTEND;VALUE=DATE", e.End.Format("20060102"))
		}
	} else {
		w.line("DTSTART", instant(e.Start))
		if e.End.After(e.Start) {
			w.line("DTEND", instant(e.End))
		}
	}
	w.line("SUMMARY", Text(e.Summary))
	if e.Description != "" {
		w.line("DESCRIPTION", Text(e.Description))
	}
	if e.Location != "" {
		w.line("LOCATION", Text(e.Location))
	}
	if e.Free {
		w.line("TRANSP", "TRANSPARENT")
	}
	w.line("END", "VEVENT")
}

func instant(t time.Time) string { return t.UTC().Format("20060102T150405Z") }

// Text escapes a text, section 3.3.11: backslash, semicolon, comma and line break. Control
// characters that no text may hold, and bytes that are not UTF-8, are left out; a tab stays.
func Text(s string) string {
	s = strings.ReplaceAll(strings.ReplaceAll(s, "\r\n", "\n"), "\r", "\n")
	var b strings.Builder
	for _, r := range strings.ToValidUTF8(s, "") {
		switch {
		case r == '\\' || r == ';' || r == ',':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\n':
			b.WriteString(`\n`)
		case r < 0x20 && r != '\t' || r == 0x7f:
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// Fold breaks a content line into lines of at most [Octets] octets, each further one with a
// space in front, never inside a character, and ends it with CRLF; section 3.1.
func Fold(line string) string {
	var b strings.Builder
	for room := Octets; len(line) > room; room = Octets - 1 {
		cut := room
		for !utf8.RuneStart(line[cut]) {
			cut--
		}
		b.WriteString(line[:cut])
		b.WriteString("\r\n ")
		line = line[cut:]
	}
	b.WriteString(line)
	b.WriteString("\r\n")
	return b.String()
}
