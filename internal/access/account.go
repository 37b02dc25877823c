package access

import (
	"context"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Account is somebody who can sign in.
type Account struct {
	ID         int64
	Version    int
	SignIn     string // lower case
	Name       string
	Role       Role
	DisabledAt *time.Time
	MadeAt     time.Time
}

// NewAccount is what it takes to add somebody.
type NewAccount struct {
	SignIn   string // 1 to 60 characters, made lower case
	Name     string // 1 to 200 characters; empty: the sign-in
	Role     Role
	Password string // 10 to 200 characters
}

var _ = explain()

func explain() struct{} {
	postgres.Explain("account_sign_in_once", fault.Conflict, "/sign_in", "Somebody signs in with this name already. Choose another.")
	return struct{}{}
}

const accountColumns = `id, version, sign_in, name, role, disabled_at, made_at`

// AccountAny reports whether anybody can sign in at all.
func (r *Room) AccountAny(ctx context.Context) (bool, error) {
	var any bool
	err := r.db.QueryRow(ctx, `SELECT EXISTS (SELECT FROM account WHERE disabled_at IS NULL)`).Scan(&any)
	return any, postgres.Translate(err)
}

// AccountList gives every account, by name.
func (r *Room) AccountList(ctx context.Context) ([]Account, error) {
	rows, err := r.db.Query(ctx, `SELECT `+accountColumns+` FROM account ORDER BY lower(name), id`)
	if err != nil {
		return nil, postgres.Translate(err)
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByName[Account])
	return list, postgres.Translate(err)
}

// AccountGet gives one account; NotFound when there is none.
func (r *Room) AccountGet(ctx context.Context, id int64) (Account, error) {
	return accountBy(ctx, r.db, `id = $1`, id)
}

// AccountGetBySignIn gives the account that signs in so; NotFound when there is none.
func (r *Room) AccountGetBySignIn(ctx context.Context, signIn string) (Account, error) {
	return accountBy(ctx, r.db, `sign_in = $1`, normalSignIn(signIn))
}

func accountBy(ctx context.Context, q postgres.Querier, where string, arg any) (Account, error) {
	rows, err := q.Query(ctx, `SELECT `+accountColumns+` FROM account WHERE `+where, arg)
	if err != nil {
		return Account{}, postgres.Translate(err)
	}
	a, err := pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[Account])
	return a, postgres.Translate(err)
}

func normalSignIn(s string) string { return strings.ToLower(strings.TrimSpace(s)) }

// AccountAdd adds somebody. Errors: Invalid by field, Conflict when the sign-in is taken.
func (r *Room) AccountAdd(ctx context.Context, n NewAccount) (Account, error) {
	var a Account
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) (err error) {
		a, err = r.AccountAddTx(ctx, tx, n)
		return err
	})
	return a, err
}

// AccountAddTx is AccountAdd within tx.
func (r *Room) AccountAddTx(ctx context.Context, tx pgx.Tx, n NewAccount) (Account, error) {
	n.SignIn, n.Name = normalSignIn(n.SignIn), strings.TrimSpace(n.Name)
	if n.Name == "" {
		n.Name = n.SignIn
	}
	var l fault.List
	l.Check(n.SignIn != "" && utf8.RuneCountInString(n.SignIn) <= 60, "/sign_in", "The sign-in name needs 1 to 60 characters.")
	l.Check(!strings.ContainsAny(n.SignIn, " \t\r\n\x00"), "/sign_in", "The sign-in name must have no spaces.")
	l.Check(utf8.RuneCountInString(n.Name) <= 200, "/name", "The name may have at most 200 characters.")
	l.Check(n.Role == Owner || n.Role == Helper, "/role", "The role is owner or helper.")
	goodPassword(&l, "/password", n.Password, n.SignIn)
	if err := l.Err(); err != nil {
		return Account{}, err
	}
	rows, err := tx.Query(ctx, `INSERT INTO account (sign_in, name, role, password_hash) VALUES ($1, $2, $3, $4)
		RETURNING `+accountColumns, n.SignIn, n.Name, n.Role, r.cost.hash(n.Password))
	if err != nil {
		return Account{}, postgres.Translate(err)
	}
	a, err := pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[Account])
	return a, postgres.Translate(err)
}

// AccountDisable ends (or with on false, restores) somebody's way in; sessions and tokens
// of a disabled account stop at once. Errors: Stale when version is not the one read,
// Conflict for the last owner who can sign in.
func (r *Room) AccountDisable(ctx context.Context, id int64, version int, on bool) (Account, error) {
	var a Account
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) (err error) {
		// Lock the owners in one order, so that two of them cannot disable each other.
		if _, err = tx.Exec(ctx, `SELECT id FROM account WHERE role = 'owner' OR id = $1 ORDER BY id FOR UPDATE`, id); err != nil {
			return err
		}
		if a, err = accountBy(ctx, tx, `id = $1`, id); err != nil {
			return err
		}
		if a.Version != version {
			return fault.New(fault.Stale, "Somebody changed this sign-in meanwhile. Look at it again.")
		}
		var others bool
		if err = tx.QueryRow(ctx, `SELECT EXISTS (SELECT FROM account WHERE role = 'owner' AND disabled_at IS NULL AND id <> $1)`, id).Scan(&others); err != nil {
			return err
		}
		if on && a.Role == Owner && !others {
			return fault.New(fault.Conflict, "This is the only owner who can sign in. Add another owner first.")
		}
		if _, err = tx.Exec(ctx, `UPDATE account SET disabled_at = CASE WHEN $2 THEN now() END WHERE id = $1`, id, on); err != nil {
			return err
		}
		a, err = accountBy(ctx, tx, `id = $1`, id)
		return err
	})
	r.lately.forget()
	return a, err
}

// AccountRoleSet makes somebody an owner or a helper, so that the owner's rights can be
// passed on. Errors: Invalid for another role, Stale, Conflict for the last owner who can
// sign in.
func (r *Room) AccountRoleSet(ctx context.Context, id int64, version int, role Role) (Account, error) {
	if role != Owner && role != Helper {
		return Account{}, fault.Bad("/role", "The role is owner or helper.")
	}
	var a Account
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) (err error) {
		if _, err = tx.Exec(ctx, `SELECT id FROM account WHERE role = 'owner' OR id = $1 ORDER BY id FOR UPDATE`, id); err != nil {
			return err
		}
		if a, err = accountBy(ctx, tx, `id = $1`, id); err != nil {
			return err
		}
		if a.Version != version {
			return fault.New(fault.Stale, "Somebody changed this sign-in meanwhile. Look at it again.")
		}
		others, err := postgres.Value[bool](ctx, tx, `SELECT EXISTS (SELECT FROM account WHERE role = 'owner' AND disabled_at IS NULL AND id <> $1)`, id)
		if err != nil {
			return err
		}
		if a.Role == Owner && role != Owner && !others {
			return fault.New(fault.Conflict, "This is the only owner who can sign in. Make somebody else an owner first.")
		}
		if _, err = tx.Exec(ctx, `UPDATE account SET role = $2 WHERE id = $1`, id, role); err != nil {
			return err
		}
		a, err = accountBy(ctx, tx, `id = $1`, id)
		return err
	})
	r.lately.forget()
	return a, err
}

// PasswordChange gives an account a new password when old is the present one; every other
// session of the account ends. Errors: Invalid by field, TooMany after too many guesses.
func (r *Room) PasswordChange(ctx context.Context, id int64, old, password string) error {
	a, err := r.AccountGet(ctx, id)
	if err != nil {
		return err
	}
	if _, err := r.SignIn(ctx, a.SignIn, old, ""); err != nil {
		if fault.Is(err, fault.Signin) {
			return fault.Bad("/old_password", "This is not the present password.")
		}
		return err
	}
	return r.PasswordSet(ctx, id, password)
}

// PasswordSet gives an account a new password; every session of the account ends.
func (r *Room) PasswordSet(ctx context.Context, id int64, password string) error {
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		a, err := accountBy(ctx, tx, `id = $1`, id)
		if err != nil {
			return err
		}
		var l fault.List
		goodPassword(&l, "/password", password, a.SignIn)
		if err := l.Err(); err != nil {
			return err
		}
		_, err = tx.Exec(ctx, `UPDATE account SET password_hash = $2 WHERE id = $1`, id, r.cost.hash(password))
		return err
	})
	r.lately.forget()
	return err
}
