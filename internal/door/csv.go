package door

import (
	"encoding/csv"
	"io"
	"strings"
)

// WriteCSV writes RFC 4180 text: lines end with CR LF, a field with a comma, quote or line
// break is quoted. A field that a spreadsheet would take for a formula gets an apostrophe
// in front; a plain negative number does not.
func WriteCSV(w io.Writer, header []string, rows [][]string) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	if err := out.Write(header); err != nil {
		return err
	}
	for _, row := range rows {
		safe := make([]string, len(row))
		for i, field := range row {
			safe[i] = harmless(field)
		}
		if err := out.Write(safe); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

func harmless(field string) string {
	if field == "" || !strings.ContainsRune("=+-@\t\r\n", rune(field[0])) {
		return field
	}
	if number(strings.TrimPrefix(field, "-")) {
		return field
	}
	return "'" + field
}

// number reports whether s is digits with at most one point.
func number(s string) bool {
	points := 0
	for _, r := range s {
		switch {
		case r == '.':
			points++
		case r < '0' || r > '9':
			return false
		}
	}
	return s != "" && s != "." && points <= 1
}
