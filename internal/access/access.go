// Package access knows who signs in and what each of them may see: accounts (owner and
// helper), passwords (argon2id), sessions of people, bearer tokens of programs, and the
// brake on guessing. Both faces ask the one table in [May]; nothing here knows of HTTP.
//
// Start reading at [Room.SignIn], [Room.SessionPerson] and [Room.TokenPerson].
package access

import (
	"context"
	"time"

	"github.com/alexedwards/scs/pgxstore"
	"github.com/alexedwards/scs/v2"

	"kerfbook/internal/postgres"
)

// Role is what an account is in the workshop.
type Role string

// The roles.
const (
	Owner  Role = "owner"  // the maker: everything
	Helper Role = "helper" // bench, timber and runs; no prices, no books
)

// Area is a part of the book that a role may see and work in, or not.
type Area string

// The areas. Prices is asked for figures inside another area: amounts, costs, margins.
const (
	Day       Area = "day"
	Enquiries Area = "enquiries"
	Orders    Area = "orders"
	Bench     Area = "bench"
	Timber    Area = "timber"
	Bees      Area = "bees"
	Runs      Area = "runs"
	Books     Area = "books"
	Settings  Area = "settings"
	Prices    Area = "prices"
	Find      Area = "find" // the find line; hits are of the areas the person may see
	Calc      Area = "calc" // calculations, which read no record
	Self      Area = "self" // one's own password and sign-out
)

// Areas lists every area, for tests that walk them.
var Areas = []Area{Day, Enquiries, Orders, Bench, Timber, Bees, Runs, Books, Settings, Prices, Find, Calc, Self}

// helperAreas is the whole table of permissions: the owner may everything, a helper this.
var helperAreas = map[Area]bool{
	Day: true, Bench: true, Timber: true, Runs: true, Find: true, Calc: true, Self: true,
}

// May reports whether a person of role r may see and work in area a.
func May(r Role, a Area) bool {
	switch r {
	case Owner:
		return true
	case Helper:
		return helperAreas[a]
	}
	return false
}

// Person is somebody known to be who they say: signed in, or a program with a token.
// The zero Person is nobody.
type Person struct {
	ID      int64
	SignIn  string
	Name    string
	Role    Role
	Program bool // came with a bearer token
}

// Known reports whether p is somebody.
func (p Person) Known() bool { return p.ID != 0 }

// May reports whether p may see and work in area a.
func (p Person) May(a Area) bool { return May(p.Role, a) }

// Actor is p as the database's history names it.
func (p Person) Actor(requestID string) postgres.Actor {
	return postgres.Actor{UserID: p.ID, Name: p.Name, Role: string(p.Role), RequestID: requestID}
}

type personKey struct{}

// WithPerson gives a context that carries p.
func WithPerson(ctx context.Context, p Person) context.Context {
	return context.WithValue(ctx, personKey{}, p)
}

// PersonFrom gives the person ctx carries, or nobody.
func PersonFrom(ctx context.Context) Person {
	p, _ := ctx.Value(personKey{}).(Person)
	return p
}

// Options are the settings of a Room; the zero value is right for use in earnest.
type Options struct {
	// Cost is what checking one password costs; zero: [DefaultCost].
	Cost Cost
	// Remember is how long a person found by session or token is trusted without asking
	// the database again; zero: one second; negative: not at all.
	Remember time.Duration
}

// How long sessions last.
const (
	KnownPhone = 60 * 24 * time.Hour // on a phone its owner called known
	OneVisit   = 12 * time.Hour      // elsewhere
)

// Room keeps accounts, sessions and tokens.
type Room struct {
	db       *postgres.DB
	cost     Cost
	sessions *scs.SessionManager
	store    *pgxstore.PostgresStore
	lately   *memory
	checking chan struct{} // at most so many passwords are checked at once
}

// passwordsAtOnce bounds the memory that a flood of sign-ins can take.
const passwordsAtOnce = 2

// New makes the room.
func New(db *postgres.DB, o Options) *Room {
	if o.Cost == (Cost{}) {
		o.Cost = DefaultCost
	}
	if o.Remember == 0 {
		o.Remember = time.Second
	}
	store := pgxstore.NewWithCleanupInterval(db.Pool(), 0)
	sm := scs.New()
	sm.Store, sm.Lifetime, sm.HashTokenInStore = store, KnownPhone, true
	return &Room{db: db, cost: o.Cost, sessions: sm, store: store, lately: newMemory(o.Remember), checking: make(chan struct{}, passwordsAtOnce)}
}
