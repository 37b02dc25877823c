package answer_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/answer"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres/pgtest"
	"kerfbook/internal/timber"
)

func TestBeginFillsAnOpenedBookOnce(t *testing.T) {
	t.Parallel()
	db := pgtest.DB(t)
	set := house.Standard()
	set.Name = "Test joinery"
	_, err := house.New(db).SettingsPut(t.Context(), set)
	require.NoError(t, err)
	r := answer.New(db, answer.Rooms{})
	count := func() [5]int {
		var n [5]int
		require.NoError(t, db.QueryRow(t.Context(), `SELECT (SELECT count(*) FROM timber_species), (SELECT count(*) FROM bee_species), (SELECT count(*) FROM climate),
(SELECT count(*) FROM box_option), (SELECT count(*) FROM item)`).Scan(&n[0], &n[1], &n[2], &n[3], &n[4]))
		return n
	}
	guesses, err := r.Begin(t.Context())
	require.NoError(t, err)
	require.Contains(t, guesses, "option.oiled")
	first := count()
	for i, n := range first {
		require.Positive(t, n, i)
	}
	item, _, err := r.Timber.ItemList(t.Context(), timber.ItemFilter{})
	require.NoError(t, err)
	require.NotEmpty(t, item)
	_, err = r.Begin(t.Context())
	require.NoError(t, err)
	require.Equal(t, first, count(), "a second time changes nothing")
}
