package archive

import (
	"bytes"
	"crypto/sha256"
	"crypto/sha512"
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

// empties are the frames of a whole archive without rows.
func empties(info Info, tables []tableHead) []any {
	frames := []any{info}
	for _, t := range tables {
		frames = append(frames, t, tableEnd{SHA256: hexSum(sha256.New())})
	}
	return append(frames, tail{})
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
	whole := empties(right, tables)
	miscounted := empties(right, tables)
	miscounted[2] = tableEnd{Rows: 1, SHA256: hexSum(sha256.New())}
	misread := empties(right, tables)
	misread[4] = tableEnd{SHA256: hexSum(sha512.New512_256())}
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
		{"another count", forge(t, miscounted...), fault.Invalid},
		{"another checksum of a table", forge(t, misread...), fault.Invalid},
		{"more than there should be", forge(t, append(whole, tail{})...), fault.Invalid},
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
	_, err = Restore(t.Context(), db, bytes.NewReader(forge(t, whole...)), Options{Replace: true})
	require.NoError(t, err, "the rest was right")
}
