package rest

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"

	"kerfbook/internal/fault"
)

// mostErrors bounds the list of wrong fields one answer carries.
const mostErrors = 20

// explainErrors turns what the validator found into fields with plain sentences.
func explainErrors(l *fault.List, err error) {
	found := flatten(err, "")
	for i, f := range found {
		if i == mostErrors {
			l.Add("", "and %d more", len(found)-mostErrors)
			return
		}
		l.Add(f.Pointer, "%s", f.Detail)
	}
}

func flatten(err error, pointer string) []fault.Field {
	var list []fault.Field
	var many openapi3.MultiError
	var request *openapi3filter.RequestError
	var schema *openapi3.SchemaError
	var parse *openapi3filter.ParseError
	switch {
	case errors.As(err, &request) && err == error(request):
		if request.Parameter != nil {
			pointer = "/" + escape(request.Parameter.Name)
		}
		if request.Err == nil {
			return []fault.Field{{Pointer: pointer, Detail: "This is not right."}}
		}
		return flatten(request.Err, pointer)
	case errors.As(err, &many) && isMulti(err):
		for _, e := range many {
			list = append(list, flatten(e, pointer)...)
		}
		return list
	case errors.As(err, &schema):
		return []fault.Field{sentence(schema, pointer)}
	case errors.Is(err, openapi3filter.ErrInvalidRequired):
		return []fault.Field{{Pointer: pointer, Detail: "This is needed."}}
	case errors.As(err, &parse):
		return []fault.Field{{Pointer: pointer, Detail: "This is not a value that can be read here."}}
	}
	return []fault.Field{{Pointer: pointer, Detail: "This is not right."}}
}

func isMulti(err error) bool {
	_, ok := err.(openapi3.MultiError) //nolint:errorlint // its own level only
	return ok
}

// sentence says what a schema error asks for, without the schema or the value in it.
func sentence(e *openapi3.SchemaError, pointer string) fault.Field {
	for _, p := range e.JSONPointer() {
		pointer += "/" + escape(p)
	}
	f := fault.Field{Pointer: pointer}
	s := e.Schema
	switch e.SchemaField {
	case "required":
		f.Detail = "This is needed."
	case "properties", "additionalProperties":
		f.Detail = "There is no such field here. Leave it out."
		if name, ok := quoted(e.Reason); ok && !strings.HasSuffix(pointer, "/"+escape(name)) {
			f.Pointer += "/" + escape(name)
		}
	case "type":
		f.Detail = "This must be " + typeName(s) + "."
	case "nullable":
		f.Detail = "This must not be null."
	case "enum":
		f.Detail = "This must be one of: " + enumNames(s.Enum) + "."
	case "minimum":
		f.Detail = limit("This must be at least %s.", s.Min)
		if s.ExclusiveMin.IsTrue() {
			f.Detail = limit("This must be more than %s.", s.Min)
		}
	case "exclusiveMinimum":
		f.Detail = limit("This must be more than %s.", s.Min)
	case "maximum":
		f.Detail = limit("This must be at most %s.", s.Max)
	case "exclusiveMaximum":
		f.Detail = limit("This must be less than %s.", s.Max)
	case "minLength":
		f.Detail = fmt.Sprintf("This needs at least %d characters.", s.MinLength)
	case "maxLength":
		f.Detail = "This is too long."
		if s.MaxLength != nil {
			f.Detail = fmt.Sprintf("This may have at most %d characters.", *s.MaxLength)
		}
	case "minItems":
		f.Detail = fmt.Sprintf("This list needs at least %d entries.", s.MinItems)
	case "maxItems":
		f.Detail = "This list is too long."
		if s.MaxItems != nil {
			f.Detail = fmt.Sprintf("This list may have at most %d entries.", *s.MaxItems)
		}
	case "uniqueItems":
		f.Detail = "An entry stands in this list twice."
	case "multipleOf":
		f.Detail = limit("This must be a multiple of %s.", s.MultipleOf)
	case "pattern":
		f.Detail = "This is not written as it should be"
		if s.Description != "" {
			f.Detail += ": " + s.Description
		}
		f.Detail += "."
	case "format":
		f.Detail = formatName(s.Format)
	default:
		f.Detail = "This is not one of the forms that are taken here."
	}
	return f
}

// quoted gives the first name in double quotes of a reason.
func quoted(reason string) (string, bool) {
	_, rest, ok := strings.Cut(reason, `"`)
	name, _, ok2 := strings.Cut(rest, `"`)
	return name, ok && ok2
}

func typeName(s *openapi3.Schema) string {
	if s.Type == nil {
		return "of another kind"
	}
	names := map[string]string{"string": "text", "integer": "a whole number", "number": "a number", "boolean": "true or false", "array": "a list", "object": "an object"}
	for _, t := range s.Type.Slice() {
		if n, ok := names[t]; ok {
			return n
		}
	}
	return "of another kind"
}

func formatName(format string) string {
	switch format {
	case "date":
		return "This must be a date such as 2026-03-14."
	case "date-time":
		return "This must be a time such as 2026-03-14T09:30:00+10:00."
	case "int64", "int32":
		return "This number is too large."
	}
	return "This is not written as it should be."
}

func enumNames(values []any) string {
	names := make([]string, len(values))
	for i, v := range values {
		names[i] = fmt.Sprint(v)
	}
	return strings.Join(names, ", ")
}

func limit(format string, v *float64) string {
	if v == nil {
		return "This is out of range."
	}
	return fmt.Sprintf(format, strconv.FormatFloat(*v, 'f', -1, 64))
}

// escape writes a name as a part of a JSON pointer, RFC 6901 section 3.
func escape(name string) string {
	return strings.NewReplacer("~", "~0", "/", "~1").Replace(clip(name))
}

// clip bounds what of the input comes back in a message.
func clip(s string) string {
	if r := []rune(s); len(r) > 60 {
		return string(r[:60]) + "…"
	}
	return strings.ToValidUTF8(strings.ReplaceAll(s, "\x00", ""), "")
}

func itoa(i int) string { return strconv.Itoa(i) }
