package answer

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"strings"
	"unicode/utf16"
	"unicode/utf8"

	"kerfbook/internal/fault"
)

// tableFile is a table read from CSV (RFC 4180): fields by the names of its head.
type tableFile struct {
	head []string
	rows []tableRow
}

// tableRow is a line with its number in the file, from 1; a record may go over several.
type tableRow struct {
	line   int
	fields map[string]string
}

// mostTableLines bounds one file; more is taken in several.
const mostTableLines = 10_000

// mostTableBytes bounds one file.
const mostTableBytes = 8 << 20

// readTable reads a table file: UTF-8 or UTF-16 with its mark, fields parted by commas,
// semicolons or tabs. known are the names a head may have; need are those it must have.
// Error: Invalid, with the line.
func readTable(body []byte, known, need []string) (tableFile, error) {
	text, err := decodeTable(body)
	if err != nil {
		return tableFile{}, err
	}
	first, _, _ := strings.Cut(text, "\n")
	r := csv.NewReader(strings.NewReader(text))
	r.Comma = parting(first)
	r.FieldsPerRecord = -1
	var out tableFile
	for {
		record, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		var broken *csv.ParseError
		if errors.As(err, &broken) {
			return out, fault.Bad("/file", "Line %d, place %d: the quotation marks do not fit. A field with a quotation mark in it is quoted, and the mark doubled.", broken.Line, broken.Column)
		}
		if err != nil {
			return out, err
		}
		line, _ := r.FieldPos(0)
		if out.head == nil {
			if out.head, err = tableHead(record, known, need); err != nil {
				return out, err
			}
			continue
		}
		if strings.TrimSpace(strings.Join(record, "")) == "" {
			continue
		}
		if len(record) > len(out.head) {
			return out, fault.Bad("/file", "Line %d has %d fields, the head has %d.", line, len(record), len(out.head))
		}
		if len(out.rows) == mostTableLines {
			return out, fault.Bad("/file", "The file has more than %d lines. Take it in parts; the same line never comes in twice.", mostTableLines)
		}
		row := tableRow{line, map[string]string{}}
		for i, field := range record {
			row.fields[out.head[i]] = strings.TrimSpace(field)
		}
		out.rows = append(out.rows, row)
	}
	if out.head == nil {
		return out, fault.Bad("/file", "The file is empty. Its first line names the columns: %s.", strings.Join(known, ", "))
	}
	return out, nil
}

func decodeTable(body []byte) (string, error) {
	if len(body) > mostTableBytes {
		return "", fault.Bad("/file", "The file is larger than %d MB. Take it in parts.", mostTableBytes>>20)
	}
	switch {
	case bytes.HasPrefix(body, []byte{0xEF, 0xBB, 0xBF}):
		body = body[3:]
	case bytes.HasPrefix(body, []byte{0xFF, 0xFE}):
		return wide(body[2:], func(a, b byte) uint16 { return uint16(a) | uint16(b)<<8 }), nil
	case bytes.HasPrefix(body, []byte{0xFE, 0xFF}):
		return wide(body[2:], func(a, b byte) uint16 { return uint16(b) | uint16(a)<<8 }), nil
	}
	if !utf8.Valid(body) || bytes.IndexByte(body, 0) >= 0 {
		line := 1
		for rest := body; len(rest) > 0; {
			r, n := utf8.DecodeRune(rest)
			if r == 0 || r == utf8.RuneError && n == 1 {
				break
			}
			if r == '\n' {
				line++
			}
			rest = rest[n:]
		}
		return "", fault.Bad("/file", "Line %d holds signs that are not UTF-8. Save the file as CSV UTF-8 and take it again.", line)
	}
	return string(body), nil
}

func wide(body []byte, join func(a, b byte) uint16) string {
	units := make([]uint16, len(body)/2)
	for i := range units {
		units[i] = join(body[2*i], body[2*i+1])
	}
	return string(utf16.Decode(units))
}

// parting is the sign that parts the fields of the head.
func parting(head string) rune {
	best, most := ',', 0
	for _, sign := range []rune{',', ';', '\t'} {
		if n := strings.Count(head, string(sign)); n > most {
			best, most = sign, n
		}
	}
	return best
}

func tableHead(record, known, need []string) ([]string, error) {
	head := make([]string, len(record))
	seen := map[string]bool{}
	for i, name := range record {
		name = strings.ReplaceAll(strings.ToLower(strings.TrimSpace(name)), " ", "_")
		ok := false
		for _, k := range known {
			ok = ok || k == name
		}
		if !ok {
			return nil, fault.Bad("/file", "Line 1, column %d: %q is not a column here. Known ones: %s.", i+1, name, strings.Join(known, ", "))
		}
		if seen[name] {
			return nil, fault.Bad("/file", "Line 1, column %d: %s stands twice.", i+1, name)
		}
		seen[name], head[i] = true, name
	}
	for _, n := range need {
		if !seen[n] {
			return nil, fault.Bad("/file", "Line 1: the column %s is missing.", n)
		}
	}
	return head, nil
}

// TableText gives a table file as text, for somebody to mend; what cannot be read is left
// out.
func TableText(body []byte) string {
	text, err := decodeTable(body)
	if err != nil {
		return ""
	}
	return text
}
