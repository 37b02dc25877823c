package main

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/access"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
)

type demoCmd struct {
	Listen string `help:"Address to listen on." default:"127.0.0.1:8080" placeholder:"HOST:PORT"`
	Data   string `help:"Folder for the invented workshop's book." default:"data" placeholder:"DIR"`
}

// demoSignIn is what demo.json says: how to come in.
type demoSignIn struct {
	URL      string `json:"url"`
	User     string `json:"user"`
	Password string `json:"password"`
	Token    string `json:"token"`
}

// Run serves the invented workshop.
func (c demoCmd) Run(ctx context.Context, cfg Config, s streams) error {
	cfg.DatabaseURL = "" // never an invented workshop in a real book
	cfg, err := override(cfg, c.Listen, c.Data)
	if err != nil {
		return err
	}
	fmt.Fprintf(s.err, "Opening the book in %s ...\n", cfg.Data)
	return serve(ctx, cfg, s, func(ctx context.Context, r *rooms, url string) error {
		in, err := demoBook(ctx, r, filepath.Join(cfg.Data, "demo.json"), url)
		if err != nil {
			return err
		}
		_, err = fmt.Fprintf(s.out, "\nkerfbook is at %s\nSign in as %s with the password %s\n(also in %s, with a token for programs; stop with Ctrl-C)\n",
			in.URL, in.User, in.Password, filepath.Join(cfg.Data, "demo.json"))
		return err
	})
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

// demoBook gives the way into the demo's book, and on an empty one makes the workshop
// and its sign-in first.
func demoBook(ctx context.Context, r *rooms, path, url string) (demoSignIn, error) {
	any, err := r.access.AccountAny(ctx)
	if err != nil {
		return demoSignIn{}, err
	}
	in := demoSignIn{User: "maker"}
	if any {
		if in, err = readDemoSignIn(path); err != nil {
			return in, err
		}
	} else if err := openDemo(ctx, r, &in); err != nil {
		return in, err
	}
	in.URL = url
	return in, writeDemoSignIn(path, in)
}

func openDemo(ctx context.Context, r *rooms, in *demoSignIn) error {
	in.Password = makePassword()
	return r.db.WithTx(ctx, func(ctx context.Context, _ pgx.Tx) error {
		set, now := house.Standard(), r.db.Now()
		set.Name, set.MakerName, set.Phone, set.Town, set.SetUpAt = "Ironbark Gully Hives", "Wren Dallimore", "07 5550 0142", "Kandanga", &now
		if _, err := r.house.SettingsPut(ctx, set); err != nil {
			return err
		}
		if err := r.house.TaxRegister(ctx, set.Today(now), true, "GST"); err != nil {
			return err
		}
		a, err := r.access.AccountAdd(ctx, access.NewAccount{SignIn: in.User, Name: set.MakerName, Role: access.Owner, Password: in.Password})
		if err != nil {
			return err
		}
		in.Token, _, err = r.access.TokenMake(ctx, a.ID, "demo")
		return err
	})
}
