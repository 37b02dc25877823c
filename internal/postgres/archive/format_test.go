package archive

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
	"kerfbook/internal/postgres/pgtest"
)

// forge writes an archive with a true checksum and whatever frames.
func forge(t *testing.T, frames ...any) []byte {
	t.Helper()
	var file bytes.Buffer
	w, err := newWriter(&file)
	require.NoError(t, err)
	for _, f := range frames {
		if data, ok := f.([]byte); ok {
			require.NoError(t, w.frame(frameData, data))
		} else {
			require.NoError(t, w.json(f))
		}
	}
	require.NoError(t, w.close())
	return file.Bytes()
}

// The checksum is right and the content is not: made by another program, or by hand.
func TestForgedArchivesAreRefused(t *testing.T) {
	t.Parallel()
	latest, err := postgres.Latest()
	require.NoError(t, err)
	db := pgtest.DB(t)
	tables, err := bookTables(t.Context(), db)
	require.NoError(t, err)
	right := Info{SchemaVersion: latest, Tables: len(tables)}
	first := tables[0]
	tests := []struct {
		name string
		file []byte
		kind fault.Kind
	}{
		{"a newer schema", forge(t, Info{SchemaVersion: latest + 1}), fault.Conflict},
		{"no schema", forge(t, Info{}), fault.Conflict},
		{"no frames", forge(t), fault.Invalid},
		{"an unknown word", forge(t, map[string]any{"schema_version": latest, "sawdust": 1}), fault.Invalid},
		{"another number of tables", forge(t, Info{SchemaVersion: latest, Tables: 1}), fault.Invalid},
		{"ends early", forge(t, right), fault.Invalid},
		{"another table", forge(t, right, tableHead{"sawdust", first.Columns}), fault.Invalid},
		{"other columns", forge(t, right, tableHead{first.Table, first.Columns[1:]}), fault.Invalid},
		{"rows where a table belongs", forge(t, right, []byte("1\t2\n")), fault.Invalid},
		{"rows that end early", forge(t, right, first, []byte("1\t2\n")), fault.Invalid},
		{"rows that do not fit", forge(t, right, first, []byte("x\n"), tableEnd{}), fault.Invalid},
		{"another count", forge(t, right, first, tableEnd{Rows: 1}), fault.Invalid},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := Restore(t.Context(), db, bytes.NewReader(tt.file), Options{Replace: true})
			require.Equal(t, tt.kind, fault.KindOf(err), "%v", err)
			now, err := bookTables(t.Context(), db)
			require.NoError(t, err)
			require.Equal(t, tables, now, "the book is as it was")
		})
	}
}
