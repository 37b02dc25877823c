package postgres

import (
	"context"
	"strconv"
	"strings"
)

// Actor is who does something: a person signed in, a program with a token, or the
// program itself (UserID 0).
type Actor struct {
	UserID    int64
	Name      string
	Role      string
	RequestID string
}

type actorKey struct{}

// WithActor gives a context in which a acts; [DB.WithTx] tells the database, and the
// history of every record names it.
func WithActor(ctx context.Context, a Actor) context.Context {
	return context.WithValue(ctx, actorKey{}, a)
}

// ActorFrom gives the one who acts in ctx, the zero Actor when nobody was named.
func ActorFrom(ctx context.Context) Actor {
	a, _ := ctx.Value(actorKey{}).(Actor)
	return a
}

// beginSQL starts a transaction and says who acts in it, in one round trip. The
// settings are local to the transaction: kerfbook.actor_id (empty when nobody is signed
// in), kerfbook.actor_name and kerfbook.request_id.
func (a Actor) beginSQL() string {
	id := ""
	if a.UserID != 0 {
		id = strconv.FormatInt(a.UserID, 10)
	}
	return "BEGIN ISOLATION LEVEL READ COMMITTED; SELECT set_config('kerfbook.actor_id'," + literal(id) +
		",true),set_config('kerfbook.actor_name'," + literal(a.Name) +
		",true),set_config('kerfbook.request_id'," + literal(a.RequestID) + ",true)"
}

// sayActor is what beginSQL says of the actor, for a statement that needs no BEGIN; its
// arguments are actorArgs.
const sayActor = `SELECT set_config('kerfbook.actor_id', $1, true), set_config('kerfbook.actor_name', $2, true), set_config('kerfbook.request_id', $3, true)`

func (a Actor) actorArgs() []any {
	id := ""
	if a.UserID != 0 {
		id = strconv.FormatInt(a.UserID, 10)
	}
	storable := func(s string) string { return strings.ToValidUTF8(strings.ReplaceAll(s, "\x00", ""), "") }
	return []any{id, storable(a.Name), storable(a.RequestID)}
}

// literal quotes s for SQL. Sessions run with standard_conforming_strings, so only the
// quote itself is special; what PostgreSQL cannot store in text is dropped.
func literal(s string) string {
	s = strings.ToValidUTF8(strings.ReplaceAll(s, "\x00", ""), "")
	return "'" + strings.ReplaceAll(s, "'", "''") + "'"
}
