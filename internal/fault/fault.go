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
