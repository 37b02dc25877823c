package mail

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"fmt"
	netmail "net/mail"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Room is the mail room.
type Room struct {
	db     *postgres.DB
	sender Sender
}

// New makes the room; sender is nil where no mail server is configured.
func New(db *postgres.DB, sender Sender) *Room { return &Room{db: db, sender: sender} }

// Configured tells whether there is a mail server.
func (r *Room) Configured() bool { return r.sender != nil }

// Mail is one mail with its paper.
type Mail struct {
	ID        int64      `db:"id"`
	Paper     string     `db:"paper"`
	Number    string     `db:"number"`
	To        string     `db:"to_address"`
	Subject   string     `db:"subject"`
	Body      string     `db:"body"`
	MessageID string     `db:"message_id"`
	QueuedAt  time.Time  `db:"queued_at"`
	NextTryAt time.Time  `db:"next_try_at"`
	Tries     int        `db:"tries"`
	SentAt    *time.Time `db:"sent_at"`
	GaveUpAt  *time.Time `db:"gave_up_at"`
	Said      string     `db:"said"` // by the server, last
	PDF       []byte     `db:"-"`
}

// State is waiting, sent or given up.
func (m Mail) State() string {
	switch {
	case m.SentAt != nil:
		return "sent"
	case m.GaveUpAt != nil:
		return "given up"
	}
	return "waiting"
}

const columns = `id, paper, number, to_address, subject, body, message_id, queued_at, next_try_at, tries, sent_at, gave_up_at, said`

// Queue writes a mail down to be sent. Errors: Conflict where no mail server is configured;
// Invalid.
func (r *Room) Queue(ctx context.Context, m Mail) (Mail, error) {
	if r.sender == nil {
		return m, fault.New(fault.Conflict, "No mail server is configured. Use the mail link and send the file yourself.")
	}
	var l fault.List
	m.To, m.Subject = strings.TrimSpace(m.To), strings.TrimSpace(m.Subject)
	_, err := netmail.ParseAddress(m.To)
	l.Check(err == nil && !strings.ContainsAny(m.To, "\r\n"), "/to", "This is not an e-mail address.")
	l.Check(m.Subject != "" && !strings.ContainsAny(m.Subject, "\r\n"), "/subject", "Write a subject, in one line.")
	l.Text("/subject", m.Subject, 200)
	l.Text("/body", m.Body, 20_000)
	l.Check(len(m.PDF) > 0, "/paper", "There is no paper to send.")
	if err := l.Err(); err != nil {
		return m, err
	}
	secret := make([]byte, 16)
	if _, err := rand.Read(secret); err != nil {
		return m, err
	}
	now := r.db.Now()
	m.MessageID = hex.EncodeToString(secret) + "@kerfbook"
	var out Mail
	err = r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		out, err = postgres.One[Mail](ctx, tx, `INSERT INTO mail (paper, number, to_address, subject, body, pdf, message_id, queued_at, next_try_at) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $8) RETURNING `+columns,
			m.Paper, m.Number, m.To, m.Subject, m.Body, m.PDF, m.MessageID, now)
		return err
	})
	return out, err
}

// Of gives the mails that went out, or are to go, with a paper, oldest first.
func (r *Room) Of(ctx context.Context, paper, number string) ([]Mail, error) {
	return postgres.List[Mail](ctx, r.db, `SELECT `+columns+` FROM mail WHERE paper = $1 AND number = $2 ORDER BY id LIMIT 100`, paper, number)
}

// Get reads one mail.
func (r *Room) Get(ctx context.Context, id int64) (Mail, error) {
	return postgres.One[Mail](ctx, r.db, `SELECT `+columns+` FROM mail WHERE id = $1`, id)
}

// Again lets a mail that was given up be tried anew. Error: Conflict when it was sent, or
// waits already.
func (r *Room) Again(ctx context.Context, id int64) (Mail, error) {
	var out Mail
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		m, err := postgres.One[Mail](ctx, tx, `SELECT `+columns+` FROM mail WHERE id = $1 FOR UPDATE`, id)
		if err != nil {
			return err
		}
		if m.State() != "given up" {
			return fault.New(fault.Conflict, "This mail is %s.", m.State())
		}
		out, err = postgres.One[Mail](ctx, tx, `UPDATE mail SET gave_up_at = NULL, tries = 0, next_try_at = $2, sending_until = NULL WHERE id = $1 RETURNING `+columns, id, r.db.Now())
		return err
	})
	return out, err
}

// Waits between tries: our estimate; a server that is away for a day is waited for.
var waits = []time.Duration{time.Minute, 5 * time.Minute, 15 * time.Minute, time.Hour, 3 * time.Hour, 8 * time.Hour, 24 * time.Hour}

// sendLimit is how long one mail may take, and lease how long nobody else touches it.
const (
	sendLimit = 40 * time.Second
	lease     = 3 * time.Minute
)

// SendNext sends the mail that has waited longest, if one is due, and tells whether there
// was one. Two servers never take the same mail.
func (r *Room) SendNext(ctx context.Context) (bool, error) {
	if r.sender == nil {
		return false, nil
	}
	m, err := r.take(ctx)
	if err != nil || m == nil {
		return false, err
	}
	inner, cancel := context.WithTimeout(ctx, sendLimit)
	defer cancel()
	outcome, said := r.sender.Send(inner, *m)
	return true, r.note(context.WithoutCancel(ctx), *m, outcome, said)
}

// take leases the next mail; one whose lease ran out without an end is given up.
func (r *Room) take(ctx context.Context) (*Mail, error) {
	var out *Mail
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		out = nil
		now := r.db.Now()
		if _, err := tx.Exec(ctx, `UPDATE mail SET gave_up_at = $1, said = $2 WHERE sent_at IS NULL AND gave_up_at IS NULL AND sending_until < $1`, now, perhaps); err != nil {
			return err
		}
		list, err := postgres.List[Mail](ctx, tx, `UPDATE mail SET tries = tries + 1, sending_until = $2 WHERE id = (SELECT id FROM mail WHERE sent_at IS NULL AND gave_up_at IS NULL AND sending_until IS NULL AND next_try_at <= $1
	ORDER BY next_try_at, id LIMIT 1 FOR UPDATE SKIP LOCKED) RETURNING `+columns, now, now.Add(lease))
		if err != nil || len(list) == 0 {
			return err
		}
		out = &list[0]
		out.PDF, err = postgres.Value[[]byte](ctx, tx, `SELECT pdf FROM mail WHERE id = $1`, out.ID)
		return err
	})
	return out, err
}

// perhaps is said of a mail of which nobody knows whether it went.
const perhaps = "It may have gone: sending was cut off at its end. Ask the buyer, or look at the mail server, before it is sent again."

func (r *Room) note(ctx context.Context, m Mail, o Outcome, said string) error {
	now := r.db.Now()
	said = strings.ToValidUTF8(strings.ReplaceAll(said, "\x00", ""), "")
	if len(said) > 1000 {
		said = said[:1000]
	}
	var err error
	switch {
	case o == Sent:
		_, err = r.db.Exec(ctx, `UPDATE mail SET sent_at = $2, sending_until = NULL, said = '' WHERE id = $1`, m.ID, now)
	case o == Perhaps:
		_, err = r.db.Exec(ctx, `UPDATE mail SET gave_up_at = $2, sending_until = NULL, said = $3 WHERE id = $1`, m.ID, now, perhaps)
	case o == Refused || m.Tries > len(waits):
		_, err = r.db.Exec(ctx, `UPDATE mail SET gave_up_at = $2, sending_until = NULL, said = $3 WHERE id = $1`, m.ID, now, said)
	default:
		_, err = r.db.Exec(ctx, `UPDATE mail SET next_try_at = $2, sending_until = NULL, said = $3 WHERE id = $1`, m.ID, now.Add(waits[m.Tries-1]), said)
	}
	if err != nil {
		return fmt.Errorf("note mail %d: %w", m.ID, postgres.Translate(err))
	}
	return nil
}

// Run sends what is due until ctx ends, and looks again every pause.
func (r *Room) Run(ctx context.Context, pause time.Duration, failed func(error)) {
	if r.sender == nil {
		return
	}
	for {
		more, err := r.SendNext(ctx)
		if err != nil && ctx.Err() == nil {
			failed(err)
		}
		if more && err == nil {
			continue
		}
		select {
		case <-ctx.Done():
			return
		case <-time.After(pause):
		}
	}
}
