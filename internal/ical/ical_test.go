package ical_test

import (
	"bytes"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	ics "github.com/arran4/golang-ical"
	goical "github.com/emersion/go-ical"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/ical"
)

func at(s string) time.Time {
	t, err := time.Parse(time.RFC3339, s)
	if err != nil {
		panic(err)
	}
	return t
}

// unfold is section 3.1 read backwards: a line break with a space or a tab behind it goes.
func unfold(s string) string {
	return strings.NewReplacer("\r\n ", "", "\r\n\t", "").Replace(s)
}

// unescape is section 3.3.11 read backwards.
func unescape(s string) string {
	return strings.NewReplacer(`\\`, `\`, `\;`, `;`, `\,`, `,`, `\n`, "\n", `\N`, "\n").Replace(s)
}

// Source: RFC 5545 section 3.1 (folding) and 3.3.11 (text), and the examples of its
// section 4, in which "Atlanta, Georgia" is written Atlanta\, Georgia.
func TestText(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, in, want string }{
		{"RFC 5545 section 4", "Networld+Interop Conference and Exhibit\nAtlanta World Congress Center\nAtlanta, Georgia", `Networld+Interop Conference and Exhibit\nAtlanta World Congress Center\nAtlanta\, Georgia`},
		{"RFC 5545 section 3.3.11", "Project XYZ Final Review\nConference Room - 3B\nCome Prepared.", `Project XYZ Final Review\nConference Room - 3B\nCome Prepared.`},
		{"each of them", `a\b;c,d:e"f`, `a\\b\;c\,d:e"f`},
		{"line breaks of all kinds", "a\r\nb\rc\nd", `a\nb\nc\nd`},
		{"what no text may hold", "a\x00b\x7fc\xffd\te", "abcd\te"},
	} {
		t.Run(c.name, func(t *testing.T) { require.Equal(t, c.want, ical.Text(c.in)) })
	}
}

func requireFolded(t *testing.T, folded, line string) {
	t.Helper()
	require.True(t, strings.HasSuffix(folded, "\r\n"))
	for part := range strings.SplitSeq(strings.TrimSuffix(folded, "\r\n"), "\r\n") {
		require.LessOrEqual(t, len(part), 75)
		require.True(t, utf8.ValidString(part), "a character is cut in two: %q", part)
	}
	require.Equal(t, line+"\r\n", unfold(folded))
}

func TestFold(t *testing.T) {
	t.Parallel()
	for n := range 400 {
		for _, letter := range []string{"a", "é", "語", "🐝"} {
			line := "SUMMARY:" + strings.Repeat("x", n%5) + strings.Repeat(letter, n)
			requireFolded(t, ical.Fold(line), line)
		}
	}
	require.Equal(t, strings.Repeat("a", 75)+"\r\n", ical.Fold(strings.Repeat("a", 75)), "75 octets need no fold")
	require.Equal(t, strings.Repeat("a", 75)+"\r\n a\r\n", ical.Fold(strings.Repeat("a", 76)))
}

func FuzzTextAndFold(f *testing.F) {
	for _, s := range []string{"", "a, b; c\\d", "🐝 " + strings.Repeat("語", 60), "\\n", "a\r\nb", strings.Repeat("\\", 80)} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		text := ical.Text(s)
		require.NotContains(t, text, "\n")
		line := "SUMMARY:" + text
		requireFolded(t, ical.Fold(line), line)
		clean := strings.Map(func(r rune) rune {
			if r < 0x20 && r != '\t' && r != '\n' || r == 0x7f {
				return -1
			}
			return r
		}, strings.ToValidUTF8(strings.ReplaceAll(strings.ReplaceAll(s, "\r\n", "\n"), "\r", "\n"), ""))
		require.Equal(t, clean, unescape(text))
	})
}

var sample = ical.Calendar{Name: "Creek Workshop, bench", Events: []ical.Event{
	{UID: "operation-12@b6.kerfbook", ChangedAt: at("2026-03-01T21:30:00Z"), Sequence: 4, Start: at("2026-03-02T08:00:00+10:00"), End: at("2026-03-02T11:30:00+10:00"),
		Summary: "B7: glue; clamp, and " + strings.Repeat("très long, ", 12), Description: "10 Plain box\nsecond line \\ with a backslash"},
	// Clocks go back in Sydney on 5 April 2026 at 3:00 (16:00 UTC the day before): the hour
	// from 2:00 comes twice, in UTC it does not.
	{UID: "operation-13@b6.kerfbook", ChangedAt: at("2026-03-01T21:30:00Z"), Start: at("2026-04-05T02:30:00+11:00"), End: at("2026-04-05T02:30:00+10:00"), Summary: "Across the change"},
	// 29 February of a leap year.
	{UID: "unit-5@b6.kerfbook", ChangedAt: at("2028-01-01T00:00:00Z"), WholeDays: true, Start: at("2028-02-29T00:00:00Z"), End: at("2028-03-01T00:00:00Z"), Summary: "Leap day", Free: true, Location: "Kin Kin; the green gate"},
}}

func TestTwoReaders(t *testing.T) {
	t.Parallel()
	body := sample.Bytes()
	one, err := ics.ParseCalendar(bytes.NewReader(body))
	require.NoError(t, err)
	two, err := goical.NewDecoder(bytes.NewReader(body)).Decode()
	require.NoError(t, err)
	require.Len(t, one.Events(), len(sample.Events))
	require.Len(t, two.Events(), len(sample.Events))
	for i, e := range sample.Events {
		a, b := one.Events()[i], two.Events()[i]
		require.Equal(t, e.UID, a.Id())
		uid, err := b.Props.Text("UID")
		require.NoError(t, err)
		require.Equal(t, e.UID, uid)
		summary, err := b.Props.Text("SUMMARY")
		require.NoError(t, err)
		require.Equal(t, e.Summary, summary)
		require.Equal(t, e.Summary, ics.FromText(a.GetProperty(ics.ComponentPropertySummary).Value))
		if e.Description != "" {
			text, err := b.Props.Text("DESCRIPTION")
			require.NoError(t, err)
			require.Equal(t, e.Description, text)
		}
		start, err := b.DateTimeStart(time.UTC)
		require.NoError(t, err)
		end, err := b.DateTimeEnd(time.UTC)
		require.NoError(t, err)
		require.True(t, e.Start.Equal(start), "%v", start)
		require.True(t, e.End.Equal(end), "%v", end)
		read := a.GetStartAt
		if e.WholeDays {
			read = a.GetAllDayStartAt
		}
		other, err := read()
		require.NoError(t, err)
		require.Equal(t, e.Start.UTC().Format("2006-01-02T15:04"), other.UTC().Format("2006-01-02T15:04"))
	}
}

// Source: the first example of RFC 5545 section 4: a conference from 18 September 1996
// 14:30 UTC to 20 September 22:00 UTC.
func TestLinesOfTheStandard(t *testing.T) {
	t.Parallel()
	c := ical.Calendar{Events: []ical.Event{{UID: "uid1@example.com", ChangedAt: at("1996-07-04T12:00:00Z"), Start: at("1996-09-18T14:30:00Z"), End: at("1996-09-20T22:00:00Z"),
		Summary: "Networld+Interop Conference", Description: "Networld+Interop Conference and Exhibit\nAtlanta World Congress Center\nAtlanta, Georgia"}}}
	got := unfold(string(c.Bytes()))
	for _, line := range []string{"BEGIN:VCALENDAR", "VERSION:2.0", "BEGIN:VEVENT", "DTSTAMP:19960704T120000Z", "UID:uid1@example.com", "DTSTART:19960918T143000Z", "DTEND:19960920T220000Z",
		"SUMMARY:Networld+Interop Conference", `DESCRIPTION:Networld+Interop Conference and Exhibit\nAtlanta World Congress Center\nAtlanta\, Georgia`, "END:VEVENT", "END:VCALENDAR"} {
		require.Contains(t, got, line+"\r\n")
	}
}
