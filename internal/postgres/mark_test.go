package postgres_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
	"kerfbook/internal/postgres/pgtest"
)

func TestMarkRoundTrip(t *testing.T) {
	t.Parallel()
	for _, m := range []postgres.Mark{{Key: "hoop pine", ID: 7}, {Key: "Ä \" \n", ID: 1 << 60}, {}} {
		got, err := postgres.ReadMark(m.String())
		require.NoError(t, err)
		require.Equal(t, m, got)
	}
	for _, s := range []string{"%", "!!", "bm90IGpzb24", postgres.Mark{Key: "a\x00b"}.String()} {
		_, err := postgres.ReadMark(s)
		require.True(t, fault.Is(err, fault.Invalid), "%q: %v", s, err)
	}
}

func TestCutPage(t *testing.T) {
	t.Parallel()
	mark := func(n int) postgres.Mark { return postgres.Mark{ID: int64(n)} }
	page, next := postgres.CutPage([]int{1, 2, 3}, 3, mark)
	require.Equal(t, []int{1, 2, 3}, page)
	require.Empty(t, next)
	page, next = postgres.CutPage([]int{1, 2, 3}, 2, mark)
	require.Equal(t, []int{1, 2}, page)
	require.Equal(t, postgres.Mark{ID: 2}.String(), next)
	require.Equal(t, []int{50, 50, 7, 200}, []int{postgres.PageSize(0), postgres.PageSize(-1), postgres.PageSize(7), postgres.PageSize(5000)})
}

func TestCollect(t *testing.T) {
	t.Parallel()
	type row struct {
		N    int    `db:"n"`
		Word string `db:"word"`
	}
	tx := pgtest.Tx(t)
	ctx := t.Context()
	list, err := postgres.List[row](ctx, tx, `SELECT n, 'x' || n AS word FROM generate_series(1, 2) n ORDER BY n`)
	require.NoError(t, err)
	require.Equal(t, []row{{1, "x1"}, {2, "x2"}}, list)
	one, err := postgres.One[row](ctx, tx, `SELECT 3 AS n, 'y' AS word`)
	require.NoError(t, err)
	require.Equal(t, row{3, "y"}, one)
	_, err = postgres.One[row](ctx, tx, `SELECT 3 AS n, 'y' AS word WHERE false`)
	require.True(t, fault.Is(err, fault.NotFound))
	_, err = postgres.Value[int](ctx, tx, `SELECT 1 WHERE false`)
	require.True(t, fault.Is(err, fault.NotFound))
	column, err := postgres.Column[string](ctx, tx, `SELECT 'z'`)
	require.NoError(t, err)
	require.Equal(t, []string{"z"}, column)
}
