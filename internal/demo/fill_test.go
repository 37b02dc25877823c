package demo_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/demo"
	"kerfbook/internal/postgres"
	"kerfbook/internal/postgres/pgtest"
)

// today is eleven in the morning of a Wednesday in Brisbane.
var today = time.Date(2026, 11, 25, 1, 0, 0, 0, time.UTC)

// filled gives a book with the whole history.
func filled(t *testing.T) *postgres.DB {
	t.Helper()
	clock := &demo.Clock{}
	db := pgtest.DB(t, postgres.WithClock(clock.Now))
	people := access.New(db, access.Options{})
	owner, err := people.AccountAdd(t.Context(), access.NewAccount{SignIn: "maker", Name: demo.MakerName, Role: access.Owner, Password: "a long enough password"})
	require.NoError(t, err)
	helper, err := people.AccountAdd(t.Context(), access.NewAccount{SignIn: "helper", Name: demo.HelperName, Role: access.Helper, Password: "another long password"})
	require.NoError(t, err)
	room := answer.New(db, answer.Rooms{})
	require.NoError(t, demo.Fill(t.Context(), demo.Options{DB: db, Clock: clock, Today: today, Owner: owner.ID, Helper: helper.ID, Rooms: room.Rooms, Answer: room,
		Days: 250, Progress: func(s string) { t.Log(time.Now().Format("05.000"), s) }}))
	return db
}

func TestFill(t *testing.T) {
	t.Parallel()
	filled(t)
}
