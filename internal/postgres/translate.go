package postgres

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"slices"
	"strings"
	"sync"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/puddle/v2"

	"kerfbook/internal/fault"
)

// SQLSTATEs that are treated one by one. Source: PostgreSQL documentation,
// appendix A, "PostgreSQL Error Codes".
const (
	serializationFailure = "40001"
	deadlockDetected     = "40P01"
	notNull              = "23502"
)

// explanation is what a constraint means to the reader.
type explanation struct {
	kind              fault.Kind
	pointer, sentence string
}

var (
	explainMu    sync.RWMutex
	explanations = map[string]explanation{}
)

// Explain registers what it means when the named constraint (or unique index) refuses a
// row: the kind of failure, a JSON pointer to the field ("" when it is not one field),
// and a sentence that says what to change. Rooms call it from a package variable or
// init. It panics when the name is already explained otherwise.
func Explain(constraint string, kind fault.Kind, pointer, sentence string) {
	explainMu.Lock()
	defer explainMu.Unlock()
	e := explanation{kind, pointer, sentence}
	if old, ok := explanations[constraint]; ok && old != e {
		panic(fmt.Sprintf("postgres: constraint %s is explained twice: %q and %q", constraint, old.sentence, sentence))
	}
	explanations[constraint] = e
}

// Explained lists the constraints that have an explanation, sorted; a test holds
// them against the schema.
func Explained() []string {
	explainMu.RLock()
	defer explainMu.RUnlock()
	names := make([]string, 0, len(explanations))
	for name := range explanations {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// Translate turns an error of the driver or the server into a *fault.Error, by
// SQLSTATE and constraint name, never by text. It gives nil for nil, and leaves what
// already carries a fault, and what it does not know, as it is (the latter is
// internal). The driver's error stays the cause.
func Translate(err error) error {
	var known *fault.Error
	if err == nil || errors.As(err, &known) {
		return err
	}
	var pg *pgconn.PgError
	switch {
	case errors.As(err, &pg):
		return translateCode(err, pg)
	case errors.Is(err, pgx.ErrNoRows):
		return fault.Wrap(err, fault.NotFound, "There is no such record.")
	case errors.Is(err, context.Canceled):
		return fault.Wrap(err, fault.Unavailable, "The request was broken off before it was done; nothing was changed.")
	case errors.Is(err, context.DeadlineExceeded):
		return fault.Wrap(err, fault.Unavailable, "The database took too long to answer. Try again in a moment.")
	case connectionLost(err):
		return fault.Wrap(err, fault.Unavailable, "The database cannot be reached just now. Try again in a moment.")
	}
	return err
}

// codeRule says what a SQLSTATE, or a class of them (two characters), means when no
// constraint explains it better. The first rule that fits is taken.
type codeRule struct {
	prefix   string
	kind     fault.Kind
	sentence string
}

var codeRules = []codeRule{
	{serializationFailure, fault.Unavailable, "Others were changing the same records. Try again."},
	{deadlockDetected, fault.Unavailable, "Others were changing the same records. Try again."},
	{notNull, fault.Invalid, "A value that is needed is missing."},
	{"23503", fault.Conflict, "This names a record that is not there, or is itself still named by another record."},
	{"23001", fault.Conflict, "Other records still name this one."},
	{"23505", fault.Conflict, "A record with the same mark is there already."},
	{"23514", fault.Invalid, "A value is outside what the book allows."},
	{"23P01", fault.Conflict, "This overlaps with a record that is there already."},
	{"P0001", fault.Conflict, "The book does not allow this change."},
	{"22001", fault.Invalid, "A text is too long. Shorten it."},
	{"22003", fault.Invalid, "A number is too large or has too many digits."},
	{"22007", fault.Invalid, "A date or time cannot be read. Write dates as 2026-03-14."},
	{"22008", fault.Invalid, "A date or time does not exist or is too far away."},
	{"22021", fault.Invalid, "A text holds characters that cannot be stored (such as NUL). Remove them."},
	{"22P05", fault.Invalid, "A text holds characters that cannot be stored (such as NUL). Remove them."},
	{"22", fault.Invalid, "A value does not fit its field."},
	{"54000", fault.Invalid, "A text is too long. Shorten it."},
	{"55P03", fault.Unavailable, "Somebody else is working on the same record. Try again in a moment."},
	{"57014", fault.Unavailable, "The database took too long to answer. Try again in a moment."},
	{"57P", fault.Unavailable, "The database is stopping or starting. Try again in a moment."},
	{"25P03", fault.Unavailable, "The database ended the connection. Try again."},
	{"25006", fault.Unavailable, "The database takes no changes just now. Try again in a moment."},
	{"08", fault.Unavailable, "The connection to the database was lost. Try again in a moment."},
	{"53", fault.Unavailable, "The database has no room or connections left. Try again in a moment."},
}

func translateCode(err error, pg *pgconn.PgError) error {
	explainMu.RLock()
	e, ok := explanations[pg.ConstraintName]
	explainMu.RUnlock()
	if ok && pg.ConstraintName != "" {
		return explained(err, e)
	}
	for _, r := range codeRules {
		if strings.HasPrefix(pg.Code, r.prefix) {
			e := explanation{kind: r.kind, sentence: r.sentence}
			if pg.Code == notNull && pg.ColumnName != "" { // fields are named as columns are
				e.pointer = "/" + pg.ColumnName
			}
			return explained(err, e)
		}
	}
	return err
}

func explained(err error, e explanation) error {
	f := fault.Wrap(err, e.kind, "%s", e.sentence)
	if e.pointer != "" {
		f.Fields = []fault.Field{{Pointer: e.pointer, Detail: e.sentence}}
	}
	return f
}

// connectionLost reports whether err came from the way to the server, not from it.
func connectionLost(err error) bool {
	var connect *pgconn.ConnectError
	var network net.Error
	return errors.As(err, &connect) || errors.As(err, &network) || pgconn.SafeToRetry(err) ||
		errors.Is(err, puddle.ErrClosedPool) || errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, net.ErrClosed)
}
