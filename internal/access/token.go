package access

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Token is a program's way in, without its secret.
type Token struct {
	ID          int64
	AccountID   int64
	Name        string
	MadeAt      time.Time
	UsedAt      *time.Time
	WithdrawnAt *time.Time
}

const (
	tokenPrefix  = "kerf_" // so that a token found in a file says what it is
	tokenBytes   = 32
	tokenColumns = `id, account_id, name, made_at, used_at, withdrawn_at`
	tokenUseStep = 24 * time.Hour // used_at is this coarse, so that reads need no write
)

func tokenHash(secret string) []byte {
	sum := sha256.Sum256([]byte(secret)) // the secret is random: no slow hash is needed
	return sum[:]
}

// TokenMake makes a token for an account and gives its secret, which is shown once and
// never again. name says what it is for, 1 to 200 characters.
func (r *Room) TokenMake(ctx context.Context, accountID int64, name string) (string, Token, error) {
	name = strings.TrimSpace(name)
	if name == "" || utf8.RuneCountInString(name) > 200 {
		return "", Token{}, fault.Bad("/name", "Say in 1 to 200 characters what the token is for.")
	}
	b := make([]byte, tokenBytes)
	_, _ = rand.Read(b) // never fails, see crypto/rand
	secret := tokenPrefix + base64.RawURLEncoding.EncodeToString(b)
	var t Token
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		rows, err := tx.Query(ctx, `INSERT INTO token (account_id, name, hash) VALUES ($1, $2, $3) RETURNING `+tokenColumns,
			accountID, name, tokenHash(secret))
		if err != nil {
			return err
		}
		t, err = pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[Token])
		return err
	})
	return secret, t, err
}

// TokenList gives the tokens of an account (0: of all), newest first.
func (r *Room) TokenList(ctx context.Context, accountID int64) ([]Token, error) {
	rows, err := r.db.Query(ctx, `SELECT `+tokenColumns+` FROM token WHERE $1 = 0 OR account_id = $1 ORDER BY id DESC`, accountID)
	if err != nil {
		return nil, postgres.Translate(err)
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByName[Token])
	return list, postgres.Translate(err)
}

// TokenWithdraw ends a token; a second time changes nothing. NotFound when there is none.
func (r *Room) TokenWithdraw(ctx context.Context, id int64) error {
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		tag, err := tx.Exec(ctx, `UPDATE token SET withdrawn_at = coalesce(withdrawn_at, now()) WHERE id = $1`, id)
		if err == nil && tag.RowsAffected() == 0 {
			return fault.New(fault.NotFound, "There is no such token.")
		}
		return err
	})
	r.lately.forget()
	return err
}

// TokenPerson gives the person a bearer token stands for. Errors: Signin when the token
// is unknown, withdrawn or its account disabled.
func (r *Room) TokenPerson(ctx context.Context, secret string) (Person, error) {
	if !strings.HasPrefix(secret, tokenPrefix) || len(secret) > 200 {
		return Person{}, errNoToken()
	}
	return r.lately.get("token "+secret, func() (Person, error) { return r.tokenPerson(ctx, secret) })
}

func (r *Room) tokenPerson(ctx context.Context, secret string) (Person, error) {
	p := Person{Program: true}
	var id int64
	var used *time.Time
	err := r.db.QueryRow(ctx, `SELECT t.id, t.used_at, a.id, a.sign_in, a.name, a.role FROM token t JOIN account a ON a.id = t.account_id
		WHERE t.hash = $1 AND t.withdrawn_at IS NULL AND a.disabled_at IS NULL`, tokenHash(secret)).
		Scan(&id, &used, &p.ID, &p.SignIn, &p.Name, &p.Role)
	if errors.Is(err, pgx.ErrNoRows) {
		return Person{}, errNoToken()
	}
	now := r.db.Now()
	if err == nil && (used == nil || now.Sub(*used) > tokenUseStep) {
		_, err = r.db.Exec(ctx, `UPDATE token SET used_at = $2 WHERE id = $1`, id, now)
	}
	return p, postgres.Translate(err)
}
