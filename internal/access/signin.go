package access

import (
	"context"
	"errors"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// The brake on guessing: so many failures within the window, by name and by address,
// before further tries are refused unread (our estimate of what a forgetful maker needs).
const (
	failWindow     = 15 * time.Minute
	failsByName    = 10
	failsByAddress = 30
	failsKept      = 24 * time.Hour
)

// FailWindow is how long somebody waits at most after too many failed sign-ins.
const FailWindow = failWindow

// errSignIn is one sentence for a wrong name and a wrong password, so that names cannot
// be found out.
func errSignIn() error {
	return fault.New(fault.Signin, "The name or the password is not right. Look at both and try again.")
}

// SignIn gives the person whose name and password these are. address is where the try
// comes from, without port; empty leaves it out of the brake. Errors: Signin when it is
// not right, TooMany after too many failures.
func (r *Room) SignIn(ctx context.Context, signIn, password, address string) (Person, error) {
	signIn = normalSignIn(signIn)
	if signIn == "" || password == "" {
		return Person{}, errSignIn()
	}
	if err := r.brake(ctx, signIn, address); err != nil {
		return Person{}, err
	}
	var p Person
	var hash string
	err := r.db.QueryRow(ctx, `SELECT id, sign_in, name, role, password_hash FROM account WHERE sign_in = $1 AND disabled_at IS NULL`, signIn).
		Scan(&p.ID, &p.SignIn, &p.Name, &p.Role, &hash)
	if errors.Is(err, pgx.ErrNoRows) {
		hash = r.cost.hash("nobody") // an unknown name costs the same time
	} else if err != nil {
		return Person{}, postgres.Translate(err)
	}
	ok, checkErr := r.check(ctx, hash, password)
	if checkErr != nil {
		return Person{}, checkErr
	}
	if !ok || !p.Known() {
		if err := r.noteFailure(ctx, signIn, address); err != nil {
			return Person{}, err
		}
		return Person{}, errSignIn()
	}
	if _, err := r.db.Exec(ctx, `DELETE FROM sign_in_failure WHERE subject = $1`, "name:"+signIn); err != nil {
		return Person{}, postgres.Translate(err)
	}
	return p, nil
}

func (r *Room) brake(ctx context.Context, signIn, address string) error {
	var byName, byAddress int
	err := r.db.QueryRow(ctx, `SELECT
		(SELECT count(*) FROM sign_in_failure WHERE subject = $1 AND at > $3),
		(SELECT count(*) FROM sign_in_failure WHERE subject = $2 AND at > $3)`,
		"name:"+signIn, "address:"+address, r.db.Now().Add(-failWindow)).Scan(&byName, &byAddress)
	if err != nil {
		return postgres.Translate(err)
	}
	if byName >= failsByName || (address != "" && byAddress >= failsByAddress) {
		return fault.New(fault.TooMany, "Too many wrong tries. Wait a quarter of an hour, then try again.")
	}
	return nil
}

func (r *Room) noteFailure(ctx context.Context, signIn, address string) error {
	now := r.db.Now()
	_, err := r.db.Exec(ctx, `INSERT INTO sign_in_failure (subject, at)
		SELECT s, $3 FROM unnest(ARRAY[$1, $2]::text[]) s WHERE s NOT IN ('address:')`, "name:"+signIn, "address:"+address, now)
	if err == nil {
		_, err = r.db.Exec(ctx, `DELETE FROM sign_in_failure WHERE at < $1`, now.Add(-failsKept))
	}
	return postgres.Translate(err)
}
