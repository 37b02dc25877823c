package access

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// What a session holds: whose it is, and a mark of the password it was opened with, so
// that a changed password ends it on every server.
const (
	sessionAccount  = "account"
	sessionPassword = "password"
)

// SessionOpen starts a session of p that lasts lasting ([KnownPhone] or [OneVisit]) and
// gives the secret for the cookie and when it ends. Only a hash of the secret is stored.
func (r *Room) SessionOpen(ctx context.Context, p Person, lasting time.Duration) (string, time.Time, error) {
	var hash string
	if err := r.db.QueryRow(ctx, `SELECT password_hash FROM account WHERE id = $1 AND disabled_at IS NULL`, p.ID).Scan(&hash); err != nil {
		return "", time.Time{}, postgres.Translate(err)
	}
	ctx, err := r.sessions.Load(ctx, "")
	if err != nil {
		return "", time.Time{}, postgres.Translate(err)
	}
	r.sessions.Put(ctx, sessionAccount, p.ID)
	r.sessions.Put(ctx, sessionPassword, passwordMark(hash))
	r.sessions.SetDeadline(ctx, time.Now().Add(lasting).UTC())
	secret, until, err := r.sessions.Commit(ctx)
	if err == nil {
		_, err = r.db.Exec(ctx, `DELETE FROM sessions WHERE expiry < now()`)
	}
	return secret, until, postgres.Translate(err)
}

// SessionPerson gives the person whose session secret is; nobody, without an error, when
// there is no such session, it has ended, or its account is disabled.
func (r *Room) SessionPerson(ctx context.Context, secret string) (Person, error) {
	if secret == "" || len(secret) > 200 {
		return Person{}, nil
	}
	return r.lately.get("session "+secret, func() (Person, error) { return r.sessionPerson(ctx, secret) })
}

func (r *Room) sessionPerson(ctx context.Context, secret string) (Person, error) {
	sctx, err := r.sessions.Load(ctx, secret)
	if err != nil {
		return Person{}, postgres.Translate(err)
	}
	id := r.sessions.GetInt64(sctx, sessionAccount)
	if id == 0 {
		return Person{}, nil
	}
	var p Person
	var hash string
	err = r.db.QueryRow(ctx, `SELECT id, sign_in, name, role, password_hash FROM account WHERE id = $1 AND disabled_at IS NULL`, id).
		Scan(&p.ID, &p.SignIn, &p.Name, &p.Role, &hash)
	switch {
	case errors.Is(err, pgx.ErrNoRows):
		return Person{}, nil
	case err != nil:
		return Person{}, postgres.Translate(err)
	case r.sessions.GetString(sctx, sessionPassword) != passwordMark(hash):
		return Person{}, nil
	}
	return p, nil
}

// SessionClose ends a session; one that is not there is no error.
func (r *Room) SessionClose(ctx context.Context, secret string) error {
	sctx, err := r.sessions.Load(ctx, secret)
	if err == nil {
		err = r.sessions.Destroy(sctx)
	}
	r.lately.forget()
	return postgres.Translate(err)
}

func passwordMark(hash string) string {
	sum := sha256.Sum256([]byte(hash))
	return hex.EncodeToString(sum[:8])
}

// errNoToken is for a bearer token that is unknown, withdrawn or of a disabled account.
func errNoToken() error {
	return fault.New(fault.Signin, "This token is not known here, or was withdrawn. Make a new one under Settings.")
}
