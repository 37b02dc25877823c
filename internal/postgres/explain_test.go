package postgres_test

import (
	"bytes"
	"io/fs"
	"os"
	"path"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	_ "kerfbook/internal/access" // the rooms that explain constraints
	_ "kerfbook/internal/apiary"
	_ "kerfbook/internal/books"
	_ "kerfbook/internal/claims"
	_ "kerfbook/internal/handover"
	"kerfbook/internal/postgres"
	"kerfbook/internal/postgres/pgtest"
	_ "kerfbook/internal/sales"
	_ "kerfbook/internal/timber"
	_ "kerfbook/internal/workshop"
)

// explaining are the rooms imported above.
var explaining = []string{"access", "apiary", "books", "claims", "handover", "sales", "timber", "workshop"}

// A sentence for a constraint that is not there would never be said: a misspelt name, or
// one that a migration has renamed. Names raised by triggers stand in their functions.
func TestExplainedConstraintsAreInTheSchema(t *testing.T) {
	t.Parallel()
	names, err := postgres.Column[string](t.Context(), pgtest.DB(t), `
		SELECT conname::text FROM pg_constraint WHERE connamespace = 'public'::regnamespace
		UNION SELECT relname FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relkind = 'i'
		UNION SELECT m[1] FROM pg_proc, regexp_matches(prosrc, 'CONSTRAINT = ''(\w+)''', 'g') m WHERE pronamespace = 'public'::regnamespace
		UNION SELECT relname || '_written_once' FROM pg_trigger JOIN pg_class c ON c.oid = tgrelid WHERE tgname = 'written_once'`)
	require.NoError(t, err)
	explained := slices.DeleteFunc(postgres.Explained(), func(name string) bool { return name == "shelf_boards_check" }) // of a test here
	require.NotEmpty(t, explained)
	for _, name := range explained {
		require.Contains(t, names, name)
	}
}

func TestEveryExplainingRoomIsImportedHere(t *testing.T) {
	t.Parallel()
	var rooms []string
	require.NoError(t, fs.WalkDir(os.DirFS(".."), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(name, ".go") || strings.HasPrefix(name, "postgres/") {
			return err
		}
		text, err := os.ReadFile("../" + name)
		if bytes.Contains(text, []byte("postgres.Explain(")) && !strings.HasSuffix(name, "_test.go") {
			rooms = append(rooms, path.Dir(name))
		}
		return err
	}))
	slices.Sort(rooms)
	require.Equal(t, explaining, slices.Compact(rooms), "add the room to the imports of this file and to explaining")
}
