package access_test

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/access"
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
	"kerfbook/internal/postgres/pgtest"
)

const password = "stringybark and wax"

func room(t *testing.T, opts ...postgres.Option) (*access.Room, *postgres.DB) {
	t.Helper()
	db := pgtest.DB(t, opts...)
	return access.New(db, access.Options{Cost: access.TestCost, Remember: -1}), db
}

func add(t *testing.T, r *access.Room, signIn string, role access.Role) access.Account {
	t.Helper()
	a, err := r.AccountAdd(t.Context(), access.NewAccount{SignIn: signIn, Role: role, Password: password})
	require.NoError(t, err)
	return a
}

// The whole table of permissions. Source: design section 4, "helper: bench, timber, runs;
// no prices or books".
func TestPermissions(t *testing.T) {
	t.Parallel()
	helper := map[access.Area]bool{access.Day: true, access.Bench: true, access.Timber: true, access.Runs: true, access.Find: true, access.Calc: true, access.Self: true}
	for _, a := range access.Areas {
		require.True(t, access.May(access.Owner, a), a)
		require.Equal(t, helper[a], access.May(access.Helper, a), a)
		require.False(t, access.May("", a), a)
		require.False(t, access.Person{}.May(a), a)
	}
}

func TestAccountsAreChecked(t *testing.T) {
	t.Parallel()
	r, _ := room(t)
	tests := []struct {
		name    string
		n       access.NewAccount
		pointer string
	}{
		{"no name", access.NewAccount{SignIn: " ", Role: access.Owner, Password: password}, "/sign_in"},
		{"a space", access.NewAccount{SignIn: "a b", Role: access.Owner, Password: password}, "/sign_in"},
		{"no such role", access.NewAccount{SignIn: "a", Role: "king", Password: password}, "/role"},
		{"short", access.NewAccount{SignIn: "a", Role: access.Owner, Password: "nine char"}, "/password"},
		{"the name itself", access.NewAccount{SignIn: "stringybark", Role: access.Owner, Password: "Stringybark"}, "/password"},
	}
	for _, tt := range tests {
		_, err := r.AccountAdd(t.Context(), tt.n)
		var e *fault.Error
		require.ErrorAs(t, err, &e, tt.name)
		require.Equal(t, tt.pointer, e.Fields[0].Pointer, tt.name)
	}
	add(t, r, "Maker ", access.Owner)
	_, err := r.AccountAdd(t.Context(), access.NewAccount{SignIn: "MAKER", Role: access.Owner, Password: password})
	require.Equal(t, fault.Conflict, fault.KindOf(err))
}

func TestPasswordsAreKeptAsArgon2id(t *testing.T) {
	t.Parallel()
	r, db := room(t)
	add(t, r, "maker", access.Owner)
	add(t, r, "jo", access.Helper)
	var one, two string
	require.NoError(t, db.QueryRow(t.Context(), `SELECT min(password_hash), max(password_hash) FROM account`).Scan(&one, &two))
	require.Regexp(t, `^\$argon2id\$v=19\$m=16,t=1,p=1\$[A-Za-z0-9+/]{22}\$[A-Za-z0-9+/]{43}$`, one)
	require.NotEqual(t, one, two, "each has its own salt")
	var kept int
	require.NoError(t, db.QueryRow(t.Context(), `SELECT count(*) FROM history WHERE became ? 'password_hash'`).Scan(&kept))
	require.Zero(t, kept, "the history holds no password")
}

func TestSignIn(t *testing.T) {
	t.Parallel()
	r, _ := room(t)
	a := add(t, r, "maker", access.Owner)
	p, err := r.SignIn(t.Context(), " Maker", password, "192.0.2.1")
	require.NoError(t, err)
	require.Equal(t, access.Person{ID: a.ID, SignIn: "maker", Name: "maker", Role: access.Owner}, p)
	for _, bad := range [][2]string{{"maker", "Stringybark and wax"}, {"nobody", password}, {"", ""}, {"maker", ""}} {
		_, err := r.SignIn(t.Context(), bad[0], bad[1], "192.0.2.1")
		require.Equal(t, fault.Signin, fault.KindOf(err), bad)
	}
}

// clock is a clock a test can turn.
type clock struct{ now time.Time }

func (c *clock) time() time.Time { return c.now }

func TestGuessingIsBraked(t *testing.T) {
	t.Parallel()
	c := &clock{now: time.Now()}
	r, _ := room(t, postgres.WithClock(c.time))
	add(t, r, "maker", access.Owner)
	add(t, r, "jo", access.Helper)
	ctx := t.Context()
	for range 10 {
		_, err := r.SignIn(ctx, "maker", "wrong", "")
		require.Equal(t, fault.Signin, fault.KindOf(err))
	}
	_, err := r.SignIn(ctx, "maker", password, "198.51.100.7")
	require.Equal(t, fault.TooMany, fault.KindOf(err), "by name, wherever it comes from")
	_, err = r.SignIn(ctx, "jo", password, "198.51.100.7")
	require.NoError(t, err, "others are not held up")
	c.now = c.now.Add(access.FailWindow + time.Second)
	_, err = r.SignIn(ctx, "maker", password, "")
	require.NoError(t, err, "after a quarter of an hour")

	for i := range 30 {
		_, err := r.SignIn(ctx, "name"+string(rune('a'+i)), "wrong", "203.0.113.9")
		require.Equal(t, fault.Signin, fault.KindOf(err))
	}
	_, err = r.SignIn(ctx, "jo", password, "203.0.113.9")
	require.Equal(t, fault.TooMany, fault.KindOf(err), "by address, whatever the name")
}

func TestSessions(t *testing.T) {
	t.Parallel()
	r, db := room(t)
	ctx := t.Context()
	a := add(t, r, "maker", access.Owner)
	p, err := r.SignIn(ctx, "maker", password, "")
	require.NoError(t, err)
	secret, until, err := r.SessionOpen(ctx, p, access.KnownPhone)
	require.NoError(t, err)
	require.WithinDuration(t, time.Now().Add(60*24*time.Hour), until, time.Minute)
	var stored int
	require.NoError(t, db.QueryRow(ctx, `SELECT count(*) FROM sessions WHERE token = $1`, secret).Scan(&stored))
	require.Zero(t, stored, "only a hash is kept")
	got, err := r.SessionPerson(ctx, secret)
	require.NoError(t, err)
	require.Equal(t, p, got)
	for _, bad := range []string{"", "nonsense", secret + "x"} {
		got, err := r.SessionPerson(ctx, bad)
		require.NoError(t, err)
		require.False(t, got.Known())
	}

	other, _, err := r.SessionOpen(ctx, p, access.OneVisit)
	require.NoError(t, err)
	require.NoError(t, r.SessionClose(ctx, other))
	gone := func(secret, why string) {
		t.Helper()
		got, err := r.SessionPerson(ctx, secret)
		require.NoError(t, err)
		require.False(t, got.Known(), why)
	}
	gone(other, "signed out")
	require.NoError(t, r.PasswordSet(ctx, a.ID, "another good one"))
	gone(secret, "the password changed")

	last, _, err := r.SessionOpen(ctx, p, access.OneVisit)
	require.NoError(t, err)
	_, err = db.Exec(ctx, `UPDATE sessions SET expiry = now() - interval '1 second'`)
	require.NoError(t, err)
	gone(last, "its time is over")
}

func TestDisabledAccountsStopAtOnce(t *testing.T) {
	t.Parallel()
	db := pgtest.DB(t)
	r := access.New(db, access.Options{Cost: access.TestCost, Remember: time.Hour}) // remembers, and must forget
	ctx := t.Context()
	owner := add(t, r, "maker", access.Owner)
	jo := add(t, r, "jo", access.Helper)
	session, _, err := r.SessionOpen(ctx, access.Person{ID: jo.ID}, access.OneVisit)
	require.NoError(t, err)
	token, made, err := r.TokenMake(ctx, jo.ID, "scales")
	require.NoError(t, err)
	p, err := r.TokenPerson(ctx, token)
	require.NoError(t, err)
	require.True(t, p.Program)
	p, err = r.SessionPerson(ctx, session)
	require.NoError(t, err)
	require.True(t, p.Known())

	_, err = r.AccountDisable(ctx, jo.ID, jo.Version+1, true)
	require.Equal(t, fault.Stale, fault.KindOf(err))
	jo, err = r.AccountDisable(ctx, jo.ID, jo.Version, true)
	require.NoError(t, err)
	require.NotNil(t, jo.DisabledAt)
	_, err = r.TokenPerson(ctx, token)
	require.Equal(t, fault.Signin, fault.KindOf(err))
	p, err = r.SessionPerson(ctx, session)
	require.NoError(t, err)
	require.False(t, p.Known())
	_, err = r.SignIn(ctx, "jo", password, "")
	require.Equal(t, fault.Signin, fault.KindOf(err))

	_, err = r.AccountDisable(ctx, jo.ID, jo.Version, false)
	require.NoError(t, err)
	_, err = r.TokenPerson(ctx, token)
	require.NoError(t, err)
	require.NoError(t, r.TokenWithdraw(ctx, made.ID))
	require.NoError(t, r.TokenWithdraw(ctx, made.ID), "a second time changes nothing")
	_, err = r.TokenPerson(ctx, token)
	require.Equal(t, fault.Signin, fault.KindOf(err))
	require.Equal(t, fault.NotFound, fault.KindOf(r.TokenWithdraw(ctx, 99999)))

	_, err = r.AccountDisable(ctx, owner.ID, owner.Version, true)
	require.Equal(t, fault.Conflict, fault.KindOf(err), "somebody must be able to come in")
}

// Two owners who keep each other out at once: one of them stays.
func TestTwoOwnersCannotLockTheBook(t *testing.T) {
	t.Parallel()
	r, _ := room(t)
	one, two := add(t, r, "one", access.Owner), add(t, r, "two", access.Owner)
	errs := make(chan error, 2)
	for _, a := range []access.Account{one, two} {
		go func() {
			_, err := r.AccountDisable(context.Background(), a.ID, a.Version, true)
			errs <- err
		}()
	}
	first, second := <-errs, <-errs
	require.True(t, (first == nil) != (second == nil), "%v %v", first, second)
	left, err := r.AccountAny(t.Context())
	require.NoError(t, err)
	require.True(t, left)
}

func TestTokensKeepOnlyAHash(t *testing.T) {
	t.Parallel()
	r, db := room(t)
	a := add(t, r, "maker", access.Owner)
	secret, made, err := r.TokenMake(t.Context(), a.ID, "till")
	require.NoError(t, err)
	var text string
	require.NoError(t, db.QueryRow(t.Context(), `SELECT t::text || (SELECT string_agg(h::text, '') FROM history h) FROM token t`).Scan(&text))
	require.NotContains(t, text, secret)
	require.NotContains(t, text, secret[5:])
	_, err = r.TokenPerson(t.Context(), secret)
	require.NoError(t, err)
	list, err := r.TokenList(t.Context(), a.ID)
	require.NoError(t, err)
	require.Equal(t, made.ID, list[0].ID)
	require.NotNil(t, list[0].UsedAt)
	_, _, err = r.TokenMake(t.Context(), a.ID, " ")
	require.Equal(t, fault.Invalid, fault.KindOf(err))
}
