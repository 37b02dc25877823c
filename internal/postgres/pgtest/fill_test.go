package pgtest_test

import (
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/postgres/pgtest"
)

func TestFillGivesEveryTableARow(t *testing.T) {
	t.Parallel()
	db := pgtest.DB(t)
	pgtest.Fill(t, db)
	rows, err := db.Query(t.Context(), `SELECT relname FROM pg_class WHERE relkind = 'r' AND relnamespace = 'public'::regnamespace ORDER BY relname`)
	require.NoError(t, err)
	tables, err := pgx.CollectRows(rows, pgx.RowTo[string])
	require.NoError(t, err)
	require.Greater(t, len(tables), 50)
	for _, table := range tables {
		var n int
		require.NoError(t, db.QueryRow(t.Context(), `SELECT count(*) FROM `+table).Scan(&n))
		require.NotZero(t, n, table)
	}
}
