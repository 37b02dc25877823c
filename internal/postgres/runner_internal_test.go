package postgres

import (
	"context"
	"errors"
	"os"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/fault"
	"kerfbook/migrations"
)

// files makes a folder of migrations from name and text in turn.
func files(pairs ...string) fstest.MapFS {
	fsys := fstest.MapFS{"schema.sql": {Data: []byte("-- not run")}}
	for i := 0; i < len(pairs); i += 2 {
		fsys[pairs[i]] = &fstest.MapFile{Data: []byte(pairs[i+1])}
	}
	return fsys
}

var planks = []string{
	"000001_plank.up.sql", "CREATE TABLE plank (n int); INSERT INTO plank VALUES (1), (2);",
	"000001_plank.down.sql", "DROP TABLE plank;",
	"000002_peg.up.sql", "CREATE TABLE peg (n int);",
	"000002_peg.down.sql", "DROP TABLE peg;",
}

func TestReadMigrations(t *testing.T) {
	t.Parallel()
	list, err := readMigrations(files(planks...))
	require.NoError(t, err)
	require.Len(t, list, 2)
	require.Equal(t, int64(2), list[1].version)
	require.Equal(t, "peg", list[1].name)
	require.Equal(t, "DROP TABLE peg;", list[1].down)
	tests := []struct {
		name string
		fsys fstest.MapFS
		want string
	}{
		{"a gap", files("000002_peg.up.sql", "x", "000002_peg.down.sql", "x"), "000001 is missing"},
		{"no way down", files("000001_plank.up.sql", "x"), "both an up and a down"},
		{"an empty file", files("000001_plank.up.sql", "", "000001_plank.down.sql", "x"), "not empty"},
		{"two names for a number", files("000001_plank.up.sql", "x", "000001_peg.down.sql", "x"), "two names"},
		{"a name of another form", files("1-plank.sql", "x"), "want a name such as"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			_, err := readMigrations(tt.fsys)
			require.ErrorContains(t, err, tt.want)
		})
	}
}

// Embedding leaves out what starts with "_" or ".", and what ends otherwise.
func TestEveryMigrationFileIsEmbedded(t *testing.T) {
	t.Parallel()
	entries, err := os.ReadDir("../../migrations")
	require.NoError(t, err)
	found := 0
	for _, e := range entries {
		if strings.HasSuffix(e.Name(), ".go") {
			continue
		}
		_, err := migrations.FS.Open(e.Name())
		require.NoError(t, err, "only .sql files whose names start with a digit belong here")
		found++
	}
	list, err := readMigrations(migrations.FS)
	require.NoError(t, err)
	require.NotEmpty(t, list)
	require.Equal(t, 2*len(list)+1, found, "an up and a down file for each number, and schema.sql")
	latest, err := Latest()
	require.NoError(t, err)
	require.Equal(t, int64(len(list)), latest)
}

// tableCount counts the tables of the book.
func tableCount(t *testing.T, db *DB) int {
	t.Helper()
	var n int
	require.NoError(t, db.QueryRow(t.Context(), `SELECT count(*) FROM pg_class
		WHERE relnamespace = 'public'::regnamespace AND relkind = 'r' AND relname <> 'schema_migration'`).Scan(&n))
	return n
}

// RunnerSuite is called from the external test, which can make databases.
func RunnerSuite(t *testing.T, empty func(testing.TB) *DB) {
	ctx := context.Background()
	t.Run("up, down and what is noted", func(t *testing.T) {
		t.Parallel()
		db := empty(t)
		require.NoError(t, migrateTo(ctx, db, files(planks...), -1))
		require.Equal(t, 2, tableCount(t, db))
		require.NoError(t, migrateTo(ctx, db, files(planks...), -1), "again does nothing")
		require.NoError(t, migrateTo(ctx, db, files(planks...), 1))
		version, err := Version(ctx, db)
		require.NoError(t, err)
		require.Equal(t, int64(1), version)
		var rows int
		require.NoError(t, db.QueryRow(ctx, `SELECT count(*) FROM plank`).Scan(&rows))
		require.Equal(t, 2, rows)
		require.NoError(t, migrateTo(ctx, db, files(planks...), 0))
		require.Equal(t, 0, tableCount(t, db))
	})
	t.Run("a mistake undoes its own file only", func(t *testing.T) {
		t.Parallel()
		db := empty(t)
		broken := append([]string{}, planks...)
		broken[5] = "CREATE TABLE peg (n int);\nCREATE TABLE knot (n int);\nCREATE TABLE knot (m nosuchtype);"
		err := migrateTo(ctx, db, files(broken...), -1)
		require.ErrorContains(t, err, "000002_peg up, line 3")
		require.Equal(t, 1, tableCount(t, db))
		require.NoError(t, migrateTo(ctx, db, files(planks...), -1))
		require.Equal(t, 2, tableCount(t, db))
	})
	t.Run("another file or a newer program", func(t *testing.T) {
		t.Parallel()
		db := empty(t)
		require.NoError(t, migrateTo(ctx, db, files(planks...), -1))
		changed := append([]string{}, planks...)
		changed[1] += " "
		err := migrateTo(ctx, db, files(changed...), -1)
		require.True(t, fault.Is(err, fault.Conflict), "%v", err)
		require.ErrorContains(t, err, "000001 was another file")
		err = migrateTo(ctx, db, files(planks[:4]...), -1)
		require.True(t, fault.Is(err, fault.Conflict), "%v", err)
		require.ErrorContains(t, err, "newer program")
		err = migrateTo(ctx, db, files(planks...), 3)
		require.True(t, fault.Is(err, fault.Conflict), "%v", err)
	})
	t.Run("four programs at once", func(t *testing.T) {
		t.Parallel()
		db := empty(t)
		errs := make(chan error, 4)
		for range cap(errs) {
			go func() { errs <- migrateTo(ctx, db, files(planks...), -1) }()
		}
		var all error
		for range cap(errs) {
			all = errors.Join(all, <-errs)
		}
		require.NoError(t, all)
		require.Equal(t, 2, tableCount(t, db))
	})
}
