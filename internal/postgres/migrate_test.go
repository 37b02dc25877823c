package postgres_test

import (
	"bytes"
	"flag"
	"os"
	"os/exec"
	"regexp"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/postgres"
	"kerfbook/internal/postgres/pgtest"
)

var update = flag.Bool("update", false, "write migrations/schema.sql anew")

func TestRunner(t *testing.T) {
	t.Parallel()
	postgres.RunnerSuite(t, func(t testing.TB) *postgres.DB { return pgtest.EmptyDB(t) })
}

// tableRows counts the rows of every table but the runner's own.
func tableRows(t *testing.T, db *postgres.DB) map[string]int {
	t.Helper()
	rows, err := db.Query(t.Context(), `SELECT relname FROM pg_class
		WHERE relnamespace = 'public'::regnamespace AND relkind = 'r' AND relname <> 'schema_migration'`)
	require.NoError(t, err)
	tables, err := pgx.CollectRows(rows, pgx.RowTo[string])
	require.NoError(t, err)
	counts := map[string]int{}
	for _, table := range tables {
		var n int
		require.NoError(t, db.QueryRow(t.Context(), `SELECT count(*) FROM `+table).Scan(&n))
		counts[table] = n
	}
	return counts
}

// Every migration runs over rows in all tables of the one before; every way down leaves
// the rows of the older tables; and what is down can go up again, to the same schema.
func TestMigrateUpDownUpOverRows(t *testing.T) {
	t.Parallel()
	latest, err := postgres.Latest()
	require.NoError(t, err)
	db := pgtest.EmptyDB(t)
	dumps := map[int64]string{}
	for n := int64(1); n <= latest; n++ {
		require.NoError(t, postgres.MigrateTo(t.Context(), db, n))
		pgtest.Fill(t, db)
		dumps[n] = dump(t, db)
	}
	for n := latest - 1; n >= 0; n-- {
		before := tableRows(t, db)
		require.NoError(t, postgres.Down(t.Context(), db, n))
		after := tableRows(t, db)
		for table, count := range after {
			if table == "history" || table == "stock_move" { // moves of what is gone go as well
				continue
			}
			require.Equal(t, before[table], count, "rows of %s at version %d", table, n)
		}
		if n > 0 {
			require.Equal(t, dumps[n], dump(t, db), "the way down to %d leaves the schema as it was there", n)
		}
	}
	var left int
	require.NoError(t, db.QueryRow(t.Context(), `SELECT (SELECT count(*) FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relkind IN ('r', 'S', 'v') AND relname <> 'schema_migration')
		+ (SELECT count(*) FROM pg_proc WHERE pronamespace = 'public'::regnamespace)
		+ (SELECT count(*) FROM pg_type WHERE typnamespace = 'public'::regnamespace AND typtype IN ('d', 'e'))`).Scan(&left))
	require.Zero(t, left, "down to 0 leaves nothing")
	require.NoError(t, postgres.Migrate(t.Context(), db))
	require.Equal(t, dumps[latest], dump(t, db))
	pgtest.Fill(t, db)
}

// A column whose name carries a unit says in its comment what it measures; every table
// says what it holds.
func TestTablesAndMeasuresHaveComments(t *testing.T) {
	t.Parallel()
	db := pgtest.DB(t)
	rows, err := db.Query(t.Context(), `
		SELECT c.relname FROM pg_class c
		WHERE c.relnamespace = 'public'::regnamespace AND c.relkind IN ('r', 'v') AND obj_description(c.oid, 'pg_class') IS NULL
		UNION ALL
		SELECT c.relname || '.' || a.attname FROM pg_class c JOIN pg_attribute a ON a.attrelid = c.oid
		WHERE c.relnamespace = 'public'::regnamespace AND c.relkind = 'r' AND a.attnum > 0 AND NOT a.attisdropped
			AND a.attname ~ '_(mm|m|km|m3|pct|min|hours|days|weeks|months|kg|g|litres|deg|c|minor|years)$' AND col_description(c.oid, a.attnum) IS NULL
		ORDER BY 1`)
	require.NoError(t, err)
	silent, err := pgx.CollectRows(rows, pgx.RowTo[string])
	require.NoError(t, err)
	require.Empty(t, silent, "add COMMENT ON to these")
}

// schema.sql is the schema to read; -update writes it.
func TestSchemaDump(t *testing.T) {
	t.Parallel()
	const file = "../../migrations/schema.sql"
	got := schemaHead + dump(t, pgtest.DB(t))
	if *update {
		require.NoError(t, os.WriteFile(file, []byte(got), 0o644))
	}
	want, err := os.ReadFile(file)
	require.NoError(t, err)
	require.Equal(t, string(want), got, "the migrations have changed: go test ./internal/postgres -run SchemaDump -update")
}

const schemaHead = "-- The whole schema, for reading. Written by: go test ./internal/postgres -run SchemaDump -update\n"

var (
	dumpNoise = regexp.MustCompile(`(?m)^(--.*|SET .*|SELECT pg_catalog\.set_config.*|\\(un)?restrict .*)\n`)
	dumpGaps  = regexp.MustCompile(`\n{3,}`)
)

// dump is the schema as pg_dump writes it, without owner, settings, versions and the
// runner's own table's rows.
func dump(t *testing.T, db *postgres.DB) string {
	t.Helper()
	cfg := db.Pool().Config().ConnConfig
	cmd := exec.Command("pg_dump", "--schema-only", "--no-owner", "--no-privileges", "--schema=public", "--dbname="+cfg.ConnString())
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	require.NoError(t, err, "pg_dump: %s", &stderr)
	text := dumpNoise.ReplaceAllString(string(out), "")
	text = strings.ReplaceAll(text, "CREATE SCHEMA public;\n", "")
	text = strings.ReplaceAll(text, "COMMENT ON SCHEMA public IS 'standard public schema';\n", "")
	return dumpGaps.ReplaceAllString(text, "\n\n")
}
