// Package fault holds the few kinds of error that every room speaks.
//
// An error carries a kind, a sentence for the reader (what is wrong and what to
// change), the field it is about where there is one, and its cause. Kinds know
// nothing of HTTP: the faces map them to statuses in one table. Anything that is
// not one of these is internal, logged in full and shown as a plain apology.
package fault

import (
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode/utf8"
)

// Kind says what sort of failure an error is.
type Kind int

// The kinds. A new one must be added to Kinds as well, so that the table of the
// faces is tested against it.
const (
	Internal    Kind = iota // our mistake; never shown in detail
	NotFound                // no such record, or not for this person
	Invalid                 // the input is wrong; Fields say where
	Conflict                // the book does not allow it now
	Stale                   // somebody else changed the record first
	Forbidden               // signed in, but not allowed
	Signin                  // not signed in
	TooMany                 // throttled
	TooLarge                // the body is larger than is taken
	Mismatch                // a known Idempotency-Key with another body
	Unavailable             // the database is away; try again
)

// Kinds lists every kind, for tests that walk them.
var Kinds = []Kind{Internal, NotFound, Invalid, Conflict, Stale, Forbidden, Signin, TooMany, TooLarge, Mismatch, Unavailable}

// Field is one wrong input: a JSON pointer such as "/lines/0/quantity" and a
// sentence that says what to change.
type Field struct {
	Pointer string `json:"pointer"`
	Detail  string `json:"detail"`
}

// Error is a failure with a kind and a sentence a person can act on.
type Error struct {
	Kind   Kind
	Detail string
	Fields []Field
	Cause  error
}

// Error gives the sentence, the fields and the cause, for logs and tests.
func (e *Error) Error() string {
	s := e.Detail
	for _, f := range e.Fields {
		s += fmt.Sprintf(" [%s: %s]", f.Pointer, f.Detail)
	}
	if e.Cause != nil {
		s += ": " + e.Cause.Error()
	}
	return s
}

// Unwrap gives the cause.
func (e *Error) Unwrap() error { return e.Cause }

// New makes an error of kind k; format and args make the sentence.
func New(k Kind, format string, args ...any) *Error {
	return &Error{Kind: k, Detail: fmt.Sprintf(format, args...)}
}

// Wrap is New with a cause that goes to the log only.
func Wrap(cause error, k Kind, format string, args ...any) *Error {
	return &Error{Kind: k, Detail: fmt.Sprintf(format, args...), Cause: cause}
}

// Bad is an Invalid error about one field; pointer is a JSON pointer.
func Bad(pointer, format string, args ...any) *Error {
	d := fmt.Sprintf(format, args...)
	return &Error{Kind: Invalid, Detail: d, Fields: []Field{{Pointer: pointer, Detail: d}}}
}

// KindOf gives the kind of err, Internal when it has none.
func KindOf(err error) Kind {
	var e *Error
	if errors.As(err, &e) {
		return e.Kind
	}
	return Internal
}

// Is reports whether err is of kind k.
func Is(err error, k Kind) bool { return err != nil && KindOf(err) == k }

// List gathers wrong fields, so that a form can show all of them at once.
type List struct{ fields []Field }

// Add notes that the field at pointer is wrong.
func (l *List) Add(pointer, format string, args ...any) {
	l.fields = append(l.fields, Field{Pointer: pointer, Detail: fmt.Sprintf(format, args...)})
}

// Check adds the sentence when ok is false, and gives ok back.
func (l *List) Check(ok bool, pointer, format string, args ...any) bool {
	if !ok {
		l.Add(pointer, format, args...)
	}
	return ok
}

// Err gives nil when nothing was added, else one Invalid error with all fields.
func (l *List) Err() error {
	if len(l.fields) == 0 {
		return nil
	}
	d := l.fields[0].Detail
	if n := len(l.fields); n > 1 {
		d = fmt.Sprintf("%d entries need a change. First: %s", n, d)
	}
	return &Error{Kind: Invalid, Detail: d, Fields: l.fields}
}

// ShortText is how many characters a name or another one-line text may have, as the
// domain "words" of the schema has it.
const ShortText = 200

// Short refuses a one-line text that is too long; empty is fine.
func (l *List) Short(pointer, s string) bool {
	return l.Check(utf8.RuneCountInString(s) <= ShortText, pointer, "At most %d characters.", ShortText)
}

// Words is Short for a text that must be there; what completes "Write …".
func (l *List) Words(pointer, s, what string) bool {
	return l.Check(s != "", pointer, "Write %s.", what) && l.Short(pointer, s)
}

// Text refuses a text of more than most characters, and one with a NUL, which no text of
// the book can hold.
func (l *List) Text(pointer, s string, most int) bool {
	return l.Check(utf8.RuneCountInString(s) <= most, pointer, "Is longer than %d characters. Shorten it.", most) &&
		l.Check(!strings.ContainsRune(s, 0), pointer, "Holds a character that cannot be stored. Type it again.")
}

// clockAhead is how far a phone's clock may run ahead of ours (our estimate).
const clockAhead = 10 * time.Minute

// Past refuses an event without a time, or one that has not happened yet.
func (l *List) Past(pointer string, at, now time.Time) bool {
	return l.Check(!at.IsZero(), pointer, "Say when it happened.") &&
		l.Check(at.Before(now.Add(clockAhead)), pointer, "This is in the future. Write when it happened.")
}
