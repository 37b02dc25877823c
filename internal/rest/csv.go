package rest

import (
	"bytes"
	"encoding"
	"fmt"
	"net/http"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/door"
)

// replyCSV answers with rows as RFC 4180 text under header.
func replyCSV(c echo.Context, name string, header []string, rows [][]string) error {
	var b bytes.Buffer
	if err := door.WriteCSV(&b, header, rows); err != nil {
		return err
	}
	c.Response().Header().Set(echo.HeaderContentDisposition, `attachment; filename="`+name+`.csv"`)
	return c.Blob(http.StatusOK, "text/csv; charset=utf-8; header=present", b.Bytes())
}

// listName names the table file of a list after the last word of its path.
func listName(path string) string {
	parts := strings.Split(path, "/")
	for i := len(parts) - 1; i >= 0; i-- {
		if parts[i] != "" && parts[i][0] != ':' {
			return parts[i]
		}
	}
	return "list"
}

// tableOf writes the items of a list's answer as a table: a column for every plain member under its name in the
// contract, those that a reader looks for first in front. A record within a record has its members as name_member;
// a list within a record is one cell, "a=1 b=2; a=3 b=4". False when v is no list.
func tableOf(v any) (header []string, rows [][]string, ok bool) {
	list := reflect.ValueOf(v)
	if list.Kind() != reflect.Struct {
		return nil, nil, false
	}
	items := list.FieldByName("Items")
	if !items.IsValid() || items.Kind() != reflect.Slice {
		return nil, nil, false
	}
	columns := columnsOf(items.Type().Elem(), "", nil)
	slices.SortStableFunc(columns, func(a, b column) int { return rank(a.name) - rank(b.name) })
	for _, col := range columns {
		header = append(header, col.name)
	}
	rows = make([][]string, items.Len())
	for i := range rows {
		rows[i] = make([]string, len(columns))
		for k, col := range columns {
			rows[i][k] = cell(cellAt(items.Index(i), col.path))
		}
	}
	return header, rows, true
}

// column is where one cell of every row stands: its name and the fields that lead to it.
type column struct {
	name string
	path []int
}

var firstColumns = []string{"number", "serial", "code", "name", "what", "on", "happened_at"}

func rank(name string) int {
	if i := slices.Index(firstColumns, name); i >= 0 {
		return i
	}
	return len(firstColumns)
}

func columnsOf(t reflect.Type, prefix string, path []int) (columns []column) {
	if t = pointed(t); !isRecord(t) {
		return []column{{strings.TrimSuffix(prefix, "_"), path}}
	}
	for i := range t.NumField() {
		name, _, _ := strings.Cut(t.Field(i).Tag.Get("json"), ",")
		if name == "" || name == "-" {
			continue
		}
		columns = append(columns, columnsOf(t.Field(i).Type, prefix+name+"_", append(slices.Clone(path), i))...)
	}
	return columns
}

var textMarshaler = reflect.TypeFor[encoding.TextMarshaler]()

// isRecord reports whether t is a struct that is not written as one word, as an instant or a day is.
func isRecord(t reflect.Type) bool {
	return t.Kind() == reflect.Struct && !t.Implements(textMarshaler) && !reflect.PointerTo(t).Implements(textMarshaler)
}

func pointed(t reflect.Type) reflect.Type {
	for t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	return t
}

// cellAt follows path through v; the zero Value where a pointer on the way is nil.
func cellAt(v reflect.Value, path []int) reflect.Value {
	for _, i := range path {
		if v = there(v); !v.IsValid() {
			return v
		}
		v = v.Field(i)
	}
	return there(v)
}

func there(v reflect.Value) reflect.Value {
	for v.IsValid() && v.Kind() == reflect.Pointer {
		if v.IsNil() {
			return reflect.Value{}
		}
		v = v.Elem()
	}
	return v
}

// cell writes one value: nothing for null, true or false, numbers with a point, instants as RFC 3339.
func cell(v reflect.Value) string {
	if v = there(v); !v.IsValid() {
		return ""
	}
	if text, ok := v.Interface().(encoding.TextMarshaler); ok {
		b, err := text.MarshalText()
		if err != nil {
			return ""
		}
		return string(b)
	}
	switch v.Kind() {
	case reflect.Interface:
		if v.IsNil() {
			return ""
		}
		return cell(v.Elem())
	case reflect.Slice, reflect.Array:
		parts := make([]string, v.Len())
		for i := range parts {
			parts[i] = cell(v.Index(i))
		}
		return strings.Join(parts, "; ")
	case reflect.Struct:
		var parts []string
		for _, col := range columnsOf(v.Type(), "", nil) {
			if text := cell(cellAt(v, col.path)); text != "" {
				parts = append(parts, col.name+"="+text)
			}
		}
		return strings.Join(parts, " ")
	case reflect.Map:
		parts := make([]string, 0, v.Len())
		for _, k := range v.MapKeys() {
			parts = append(parts, fmt.Sprint(k)+"="+cell(v.MapIndex(k)))
		}
		slices.Sort(parts)
		return strings.Join(parts, " ")
	case reflect.Float32, reflect.Float64:
		return strconv.FormatFloat(v.Float(), 'f', -1, v.Type().Bits())
	default:
		return fmt.Sprint(v.Interface())
	}
}
