// Package idem keeps the first answer to a request that carries an Idempotency-Key, in
// the same transaction as the changes that request made: either both are there or
// neither, so a client that lost the answer may ask again without harm.
//
// Start reading at [Keeper.Do].
package idem

import (
	"bytes"
	"context"
	"encoding/json"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Kept is how long an answer can be asked for again; a phone is back in range by then
// (our estimate).
const Kept = 14 * 24 * time.Hour

// Request is what an answer is kept for.
type Request struct {
	Key      string // as the client chose it, 1 to 200 characters
	ActorID  int64  // whose key it is: two people may choose the same
	Route    string // method and address
	BodyHash []byte // of the body; another body with the same key is a mistake
}

// Answer is what was sent.
type Answer struct {
	Status  int
	Headers map[string][]string
	Body    []byte
}

// Keeper keeps answers in the database.
type Keeper struct{ db *postgres.DB }

// New makes a Keeper.
func New(db *postgres.DB) *Keeper { return &Keeper{db} }

// Do runs work in a transaction that also keeps its answer, or gives the answer already
// kept for q (again is true). A second request that comes while the first is at work
// waits for it. An error of work undoes everything and keeps nothing; work may run twice
// (see [postgres.DB.WithTx]). Mismatch: the key was used for another request.
func (k *Keeper) Do(ctx context.Context, q Request, work func(ctx context.Context) (Answer, error)) (answer Answer, again bool, err error) {
	err = k.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		tag, err := tx.Exec(ctx, `INSERT INTO idempotency (key, actor_id, route, body_hash) VALUES ($1, $2, $3, $4) ON CONFLICT DO NOTHING`,
			q.Key, q.ActorID, q.Route, q.BodyHash)
		if err != nil {
			return err
		}
		if again = tag.RowsAffected() == 0; again {
			answer, err = kept(ctx, tx, q)
			return err
		}
		if answer, err = work(ctx); err != nil {
			return err
		}
		headers, err := json.Marshal(answer.Headers)
		if err != nil {
			return err
		}
		_, err = tx.Exec(ctx, `UPDATE idempotency SET status = $3, headers = $4, body = $5 WHERE actor_id = $1 AND key = $2`,
			q.ActorID, q.Key, answer.Status, headers, answer.Body)
		return err
	})
	return answer, again, err
}

func kept(ctx context.Context, tx pgx.Tx, q Request) (Answer, error) {
	var a Answer
	var route string
	var hash, headers []byte
	err := tx.QueryRow(ctx, `SELECT route, body_hash, status, headers, body FROM idempotency WHERE actor_id = $1 AND key = $2`, q.ActorID, q.Key).
		Scan(&route, &hash, &a.Status, &headers, &a.Body)
	if err != nil {
		return Answer{}, err
	}
	if route != q.Route || !bytes.Equal(hash, q.BodyHash) {
		return Answer{}, fault.New(fault.Mismatch, "This Idempotency-Key was used for another request already. Send a new key with a new request.")
	}
	return a, json.Unmarshal(headers, &a.Headers)
}

// Purge drops answers older than [Kept].
func (k *Keeper) Purge(ctx context.Context) error {
	_, err := k.db.Exec(ctx, `DELETE FROM idempotency WHERE made_at < $1`, k.db.Now().Add(-Kept))
	return postgres.Translate(err)
}
