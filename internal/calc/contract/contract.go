// Package contract gives every calculation one shape, so that the Go function,
// the command and the REST route take and give the same fields.
//
// A calc room describes each of its calculations as a Topic with New; package
// topics lists them all. Input is decoded strictly: unknown fields, trailing
// text and numbers that are no numbers are refused with the field's pointer.
// Nothing here knows of a database, of HTTP or of today's date.
package contract

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"reflect"
	"strings"
)

// Field is one wrong input: a JSON pointer and what to change.
type Field struct {
	Pointer string `json:"pointer"`
	Detail  string `json:"detail"`
}

// Error is bad input to a calculation. Calc rooms return it for anything that a
// person could have typed.
type Error struct{ Fields []Field }

// Error gives all fields in one line.
func (e *Error) Error() string {
	s := make([]string, len(e.Fields))
	for i, f := range e.Fields {
		s[i] = f.Pointer + ": " + f.Detail
	}
	return strings.Join(s, "; ")
}

// Bad makes an Error about one field.
func Bad(pointer, format string, args ...any) *Error {
	return &Error{Fields: []Field{{pointer, fmt.Sprintf(format, args...)}}}
}

// Checks gathers wrong fields; its zero value is ready.
type Checks struct{ fields []Field }

// Add notes a wrong field.
func (c *Checks) Add(pointer, format string, args ...any) {
	c.fields = append(c.fields, Field{pointer, fmt.Sprintf(format, args...)})
}

// Number refuses NaN, infinities and values outside low..high (both allowed).
func (c *Checks) Number(pointer string, v, low, high float64) bool {
	switch {
	case math.IsNaN(v) || math.IsInf(v, 0):
		c.Add(pointer, "must be a number")
	case v < low || v > high:
		c.Add(pointer, "must lie between %g and %g", low, high)
	default:
		return true
	}
	return false
}

// Err gives nil, or an *Error with everything that was added.
func (c *Checks) Err() error {
	if len(c.fields) == 0 {
		return nil
	}
	return &Error{Fields: c.fields}
}

// MaxInput is the largest input in bytes that a calculation reads.
const MaxInput = 8 << 20

// Topic is one calculation behind its three doors.
type Topic struct {
	Name    string // as typed: "sawn-size"
	Summary string // one line for the list of topics
	Example string // a JSON input that works
	// Long is true where the input may name a time limit, time_limit_ms: such a
	// calculation can be watched (see WithWatch) and gives its best answer when its
	// context ends early.
	Long bool
	// Run decodes raw, calculates and gives the output to be encoded. Bad input
	// gives an *Error. ctx carries the caller's deadline, which may only change
	// what is marked as not proved.
	Run func(ctx context.Context, raw []byte) (any, error)
}

// New makes a Topic from a function on typed input and output.
func New[In, Out any](name, summary, example string, fn func(context.Context, In) (Out, error)) Topic {
	return Topic{Name: name, Summary: summary, Example: example, Long: hasLimit(reflect.TypeFor[In]()),
		Run: func(ctx context.Context, raw []byte) (any, error) {
			var in In
			if err := Decode(raw, &in); err != nil {
				return nil, err
			}
			return fn(ctx, in)
		}}
}

// LimitField is the field of an input that ends a long calculation by the clock.
const LimitField = "time_limit_ms"

func hasLimit(in reflect.Type) bool {
	for i := range in.NumField() {
		if name, _, _ := strings.Cut(in.Field(i).Tag.Get("json"), ","); name == LimitField {
			return true
		}
	}
	return false
}

// Decode reads one JSON object strictly into v; what is wrong is an *Error. A
// field tagged `need:"yes"` must be there and not null, in every item of a list.
func Decode(raw []byte, v any) error {
	if len(raw) > MaxInput {
		return Bad("", "the input is larger than %d MB", MaxInput>>20)
	}
	d := json.NewDecoder(bytes.NewReader(raw))
	d.DisallowUnknownFields()
	if err := d.Decode(v); err != nil {
		return decodeError(err)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return Bad("", "there is text after the input's closing brace")
	}
	return needed(raw, reflect.TypeOf(v))
}

func decodeError(err error) error {
	var own *Error
	if errors.As(err, &own) {
		return own
	}
	var typ *json.UnmarshalTypeError
	if errors.As(err, &typ) {
		return Bad("/"+strings.ReplaceAll(typ.Field, ".", "/"), "must be a %s, not a %s", plainType(typ.Type.Kind().String()), typ.Value)
	}
	var syn *json.SyntaxError
	if errors.As(err, &syn) {
		return Bad("", "not JSON near byte %d", syn.Offset)
	}
	if name, ok := strings.CutPrefix(err.Error(), "json: unknown field "); ok {
		return Bad("/"+strings.Trim(name, `"`), "is not a field of this calculation")
	}
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return Bad("", "the input is empty or breaks off")
	}
	return Bad("", "cannot be read: %v", err)
}

func plainType(kind string) string {
	switch {
	case strings.HasPrefix(kind, "int"), strings.HasPrefix(kind, "uint"):
		return "whole number"
	case strings.HasPrefix(kind, "float"):
		return "number"
	case kind == "slice", kind == "array":
		return "list"
	case kind == "struct", kind == "map":
		return "object"
	case kind == "bool":
		return "true or false"
	}
	return kind
}
