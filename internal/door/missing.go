package door

import (
	"reflect"
	"slices"
)

// Missing gives the names of the fields of deps, a struct, that were left at zero and are
// not optional: a room nobody has built would otherwise be found by its first reader.
func Missing(deps any, optional ...string) []string {
	var names []string
	v := reflect.ValueOf(deps)
	for i := range v.NumField() {
		if name := v.Type().Field(i).Name; v.Field(i).IsZero() && !slices.Contains(optional, name) {
			names = append(names, name)
		}
	}
	return names
}
