package workshop

import (
	"errors"
	"strings"

	"kerfbook/internal/calc/contract"
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Room is the record of the bench.
type Room struct{ db *postgres.DB }

// New makes the room.
func New(db *postgres.DB) *Room { return &Room{db: db} }

// refused turns the bad input of a calculation into a fault with the same pointers.
func refused(err error) error {
	var bad *contract.Error
	if !errors.As(err, &bad) {
		return err
	}
	var l fault.List
	for _, f := range bad.Fields {
		l.Add(f.Pointer, "%s", f.Detail)
	}
	return l.Err()
}

var likeSpecial = strings.NewReplacer(`\`, `\\`, `%`, `\%`, `_`, `\_`)

// likeLiteral makes text stand for itself in a LIKE pattern.
func likeLiteral(s string) string { return likeSpecial.Replace(strings.TrimSpace(s)) }
