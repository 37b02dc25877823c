package postgres

import (
	"encoding/base64"
	"encoding/json"
	"strings"

	"kerfbook/internal/fault"
)

// Rows on one page of a list.
const (
	PageDefault = 50
	PageMost    = 200
	PageWhole   = -200_000 // the whole list, for a table file
	wholeMost   = 200_000
)

// PageSize brings the asked number of rows within what is given.
func PageSize(n int) int {
	if n == PageWhole {
		return wholeMost
	}
	if n <= 0 {
		return PageDefault
	}
	return min(n, PageMost)
}

// Mark is where a page of a list ended: the key it is sorted by, and the id among
// equals. Callers see it only as an opaque text.
type Mark struct {
	Key string `json:"k"`
	ID  int64  `json:"i"`
}

// String is the mark as it goes to the caller; safe in a URL.
func (m Mark) String() string {
	b, err := json.Marshal(m)
	if err != nil { // a string and a number always encode
		panic(err)
	}
	return base64.RawURLEncoding.EncodeToString(b)
}

// ReadMark reads what [Mark.String] wrote; the zero Mark from "". Invalid for anything
// else.
func ReadMark(s string) (Mark, error) {
	var m Mark
	if s == "" {
		return m, nil
	}
	b, err := base64.RawURLEncoding.DecodeString(s)
	if err == nil {
		err = json.Unmarshal(b, &m)
	}
	if err != nil || strings.ContainsRune(m.Key, 0) {
		return Mark{}, fault.Bad("/after", "This page mark is not one of ours. Start the list again.")
	}
	return m, nil
}

// CutPage takes a list that was read one row longer than the page, and gives the page
// and the mark of the next one, "" at the end.
func CutPage[T any](list []T, size int, mark func(T) Mark) ([]T, string) {
	if len(list) <= size {
		return list, ""
	}
	list = list[:size]
	return list, mark(list[size-1]).String()
}
