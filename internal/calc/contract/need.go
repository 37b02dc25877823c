package contract

import (
	"bytes"
	"encoding/json"
	"reflect"
	"strconv"
	"strings"
)

// mostMissing is how many left-out fields one answer lists.
const mostMissing = 20

// needed refuses input in which a field tagged `need:"yes"` is left out or null.
// Go's decoder leaves such a field at zero, which for a temperature or a tax rate
// is a value like any other. raw has been decoded into t without error.
func needed(raw []byte, t reflect.Type) error {
	var c Checks
	walkNeeded(raw, t, "", &c)
	return c.Err()
}

func walkNeeded(raw []byte, t reflect.Type, at string, c *Checks) {
	for t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	switch t.Kind() {
	case reflect.Struct:
		var have map[string]json.RawMessage
		if json.Unmarshal(raw, &have) == nil {
			walkFields(have, t, at, c)
		}
	case reflect.Slice:
		if !hasNeeded(t.Elem()) {
			return
		}
		var list []json.RawMessage
		if json.Unmarshal(raw, &list) != nil {
			return
		}
		for i, item := range list {
			walkNeeded(item, t.Elem(), at+"/"+strconv.Itoa(i), c)
		}
	}
}

func walkFields(have map[string]json.RawMessage, t reflect.Type, at string, c *Checks) {
	for i := range t.NumField() {
		f := t.Field(i)
		if f.Anonymous && f.Tag.Get("json") == "" && f.Type.Kind() == reflect.Struct {
			walkFields(have, f.Type, at, c)
			continue
		}
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		if name == "" || name == "-" || len(c.fields) >= mostMissing {
			continue
		}
		value, ok := have[name]
		if !ok || bytes.Equal(bytes.TrimSpace(value), []byte("null")) {
			if f.Tag.Get("need") == "yes" {
				c.Add(at+"/"+name, "is missing")
			}
			continue
		}
		walkNeeded(value, f.Type, at+"/"+name, c)
	}
}

// hasNeeded tells whether lists of t need to be looked through at all.
func hasNeeded(t reflect.Type) bool {
	for t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice {
		t = t.Elem()
	}
	if t.Kind() != reflect.Struct {
		return false
	}
	for i := range t.NumField() {
		f := t.Field(i)
		if f.Tag.Get("need") == "yes" || (f.Tag.Get("json") != "" && hasNeeded(f.Type)) {
			return true
		}
	}
	return false
}
