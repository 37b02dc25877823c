package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"kerfbook/internal/access"
	"kerfbook/internal/demo"
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

type demoCmd struct {
	Listen string `help:"Address to listen on; with --once a free port." placeholder:"HOST:PORT"`
	Data   string `help:"Folder for the invented workshop's book (demo-data here; for root /var/lib/kerfbook-demo)." placeholder:"DIR"`
	Once   bool   `help:"Take one new job through the REST address from enquiry to handover, say what happened, and end."`
	Papers string `help:"With --once: folder that gets every kind of paper." placeholder:"DIR"`
	Days   int    `help:"Length of the history of a new book, in days; 90 and more." default:"730"`
}

// demoSignIn is what demo.json says: how to come in.
type demoSignIn struct {
	URL      string `json:"url"`
	User     string `json:"user"`
	Password string `json:"password"`
	Token    string `json:"token"`
}

// Files beside the demo's book: the way in, and a mark that stands while it is filled.
const (
	signInFile  = "demo.json"
	fillingFile = "demo.filling"
)

// Run serves the invented workshop, or with --once takes one job through it.
func (c demoCmd) Run(ctx context.Context, cfg Config, s streams) error {
	cfg.DatabaseURL = "" // never an invented workshop in a real book
	if c.Papers != "" && !c.Once {
		return fault.New(fault.Invalid, "The flag --papers goes with --once.")
	}
	if c.Days < 90 || c.Days > 3650 {
		return fault.New(fault.Invalid, "The flag --days lies between 90 and 3650.")
	}
	if c.Data == "" {
		c.Data = demoData()
	}
	if c.Once && c.Listen == "" {
		c.Listen = "127.0.0.1:0"
	}
	cfg, err := override(cfg, c.Listen, c.Data)
	if err != nil {
		return err
	}
	fmt.Fprintf(s.err, "Opening the book in %s ...\n", cfg.Data)
	var in demoSignIn
	return serveWith(ctx, cfg, s, steps{
		prepare: func(ctx context.Context, b *book, r *rooms) error {
			in, err = demoBook(ctx, b, r, c.Days, cfg.Data, s)
			return err
		},
		ready: func(ctx context.Context, _ *rooms, url string) error {
			in.URL = url
			if err := writeDemoSignIn(filepath.Join(cfg.Data, signInFile), in); err != nil {
				return err
			}
			if c.Once {
				if err := demo.Walk(ctx, demo.Visit{URL: url, Token: in.Token, Papers: c.Papers, Out: s.out}); err != nil {
					return err
				}
				return errEnough
			}
			_, err := fmt.Fprintf(s.out, "\nkerfbook is at %s\nSign in as %s with the password %s\n(also in %s, with a token for programs; stop with Ctrl-C)\n",
				in.URL, in.User, in.Password, filepath.Join(cfg.Data, signInFile))
			return err
		},
	})
}

// demoData is the usual folder. Run by root, PostgreSQL works as another user, who cannot
// reach root's home.
func demoData() string {
	if os.Geteuid() == 0 {
		return "/var/lib/kerfbook-demo"
	}
	return "demo-data"
}

// writeDemoSignIn keeps the sign-in beside the book, for its owner only.
func writeDemoSignIn(path string, in demoSignIn) error {
	body, err := json.MarshalIndent(in, "", "  ")
	if err != nil {
		return err
	}
	return os.WriteFile(path, append(body, '\n'), 0o600)
}

func readDemoSignIn(path string) (demoSignIn, error) {
	var in demoSignIn
	body, err := os.ReadFile(path)
	if err != nil {
		return in, fault.Wrap(err, fault.Conflict, "The book in this folder is no demo: %s is missing. Name another folder with --data.", path)
	}
	return in, json.Unmarshal(body, &in)
}

// demoBook gives the way into the demo's book, and fills it first when it is empty. A
// filling that was broken off is begun anew; any other book is refused.
func demoBook(ctx context.Context, b *book, r *rooms, days int, dir string, s streams) (demoSignIn, error) {
	mark := filepath.Join(dir, fillingFile)
	if _, err := os.Stat(mark); err == nil {
		fmt.Fprintln(s.err, "The last filling was broken off; beginning anew.")
		if err := errors.Join(postgres.Down(ctx, b.db, 0), postgres.Migrate(ctx, b.db)); err != nil {
			return demoSignIn{}, err
		}
	} else if any, err := r.access.AccountAny(ctx); err != nil {
		return demoSignIn{}, err
	} else if any {
		return readDemoSignIn(filepath.Join(dir, signInFile))
	}
	if err := os.WriteFile(mark, nil, 0o600); err != nil {
		return demoSignIn{}, err
	}
	in, err := fillDemo(ctx, b, days, s)
	if err == nil {
		err = writeDemoSignIn(filepath.Join(dir, signInFile), in)
	}
	if err == nil {
		err = os.Remove(mark)
	}
	return in, err
}

// fillDemo writes two years of history through rooms whose clock goes through them. The
// disk is not waited for: what is lost in a crash is filled anew.
func fillDemo(ctx context.Context, b *book, days int, s streams) (demoSignIn, error) {
	in := demoSignIn{User: "maker", Password: makePassword()}
	begin, clock := time.Now(), &demo.Clock{}
	db, err := postgres.Open(ctx, b.server.URL()+"&synchronous_commit=off", postgres.WithClock(clock.Now))
	if err != nil {
		return in, err
	}
	defer db.Close()
	r := newRooms(db)
	owner, err := r.access.AccountAdd(ctx, access.NewAccount{SignIn: in.User, Name: demo.MakerName, Role: access.Owner, Password: in.Password})
	if err != nil {
		return in, err
	}
	helper, err := r.access.AccountAdd(ctx, access.NewAccount{SignIn: "helper", Name: demo.HelperName, Role: access.Helper, Password: makePassword()})
	if err != nil {
		return in, err
	}
	if in.Token, _, err = r.access.TokenMake(ctx, owner.ID, "demo"); err != nil {
		return in, err
	}
	ctx = postgres.WithActor(ctx, postgres.Actor{UserID: owner.ID, Name: owner.Name, Role: string(access.Owner)})
	err = demo.Fill(ctx, demo.Options{DB: db, Clock: clock, Today: begin, Days: days, Owner: owner.ID, Helper: helper.ID, Rooms: r.answer.Rooms, Answer: r.answer,
		Progress: func(what string) { fmt.Fprintf(s.err, "%5.1f s  %s\n", time.Since(begin).Seconds(), what) }})
	return in, err
}
