package main

import (
	"bufio"
	"context"
	"crypto/rand"
	"fmt"
	"io"
	"os"
	"strings"

	"kerfbook/internal/access"
	"kerfbook/internal/fault"
)

type userCmd struct {
	List     userListCmd     `cmd:"" help:"Everybody who can sign in."`
	Add      userAddCmd      `cmd:"" help:"Let somebody sign in. Without --password-file a password is made and shown once."`
	Password userPasswordCmd `cmd:"" help:"Give somebody a new password; their phones are signed out."`
	Disable  userDisableCmd  `cmd:"" help:"Keep somebody out; phones and programs stop at once."`
	Enable   userEnableCmd   `cmd:"" help:"Let somebody in again."`
	Token    userTokenCmd    `cmd:"" help:"Make a token for a program; it is shown once."`
}

type userListCmd struct{}

// Run lists the accounts.
func (userListCmd) Run(ctx context.Context, cfg Config, s streams) error {
	return withTables(ctx, cfg, s, func(b *book) error {
		list, err := newRooms(b.db).access.AccountList(ctx)
		for _, a := range list {
			state := "can sign in"
			if a.DisabledAt != nil {
				state = "kept out"
			}
			fmt.Fprintf(s.out, "%-20s %-7s %-12s %s\n", a.SignIn, a.Role, state, a.Name)
		}
		return err
	})
}

type userAddCmd struct {
	Name         string `arg:"" help:"Name to sign in with."`
	Role         string `help:"owner: everything. helper: bench, timber and runs, no prices." enum:"owner,helper" default:"owner"`
	FullName     string `help:"How the book names the person." placeholder:"NAME"`
	PasswordFile string `help:"File with the password in its first line; - for standard input." placeholder:"FILE"`
}

// Run adds an account.
func (c userAddCmd) Run(ctx context.Context, cfg Config, s streams) error {
	password, made, err := choosePassword(c.PasswordFile, s.in)
	if err != nil {
		return err
	}
	return withTables(ctx, cfg, s, func(b *book) error {
		a, err := newRooms(b.db).access.AccountAdd(ctx, access.NewAccount{SignIn: c.Name, Name: c.FullName, Role: access.Role(c.Role), Password: password})
		if err != nil {
			return err
		}
		return sayPassword(s.out, a.SignIn+" ("+string(a.Role)+") can sign in", password, made)
	})
}

type userPasswordCmd struct {
	Name         string `arg:"" help:"Name to sign in with."`
	PasswordFile string `help:"File with the password in its first line; - for standard input." placeholder:"FILE"`
}

// Run gives a new password.
func (c userPasswordCmd) Run(ctx context.Context, cfg Config, s streams) error {
	password, made, err := choosePassword(c.PasswordFile, s.in)
	if err != nil {
		return err
	}
	return withAccount(ctx, cfg, s, c.Name, func(r *access.Room, a access.Account) error {
		if err := r.PasswordSet(ctx, a.ID, password); err != nil {
			return err
		}
		return sayPassword(s.out, a.SignIn+" has a new password", password, made)
	})
}

type userDisableCmd struct {
	Name string `arg:"" help:"Name to sign in with."`
}

// Run keeps somebody out.
func (c userDisableCmd) Run(ctx context.Context, cfg Config, s streams) error {
	return switchAccount(ctx, cfg, s, c.Name, true, "can no longer sign in")
}

type userEnableCmd struct {
	Name string `arg:"" help:"Name to sign in with."`
}

// Run lets somebody in again.
func (c userEnableCmd) Run(ctx context.Context, cfg Config, s streams) error {
	return switchAccount(ctx, cfg, s, c.Name, false, "can sign in again")
}

type userTokenCmd struct {
	Name string `arg:"" help:"Whose token it is."`
	For  string `help:"What the token is for." required:"" placeholder:"TEXT"`
}

// Run makes a token; standard output is the token alone.
func (c userTokenCmd) Run(ctx context.Context, cfg Config, s streams) error {
	return withAccount(ctx, cfg, s, c.Name, func(r *access.Room, a access.Account) error {
		secret, _, err := r.TokenMake(ctx, a.ID, c.For)
		if err == nil {
			_, err = fmt.Fprintln(s.out, secret)
		}
		return err
	})
}

func switchAccount(ctx context.Context, cfg Config, s streams, name string, off bool, said string) error {
	return withAccount(ctx, cfg, s, name, func(r *access.Room, a access.Account) error {
		_, err := r.AccountDisable(ctx, a.ID, a.Version, off)
		if err == nil {
			_, err = fmt.Fprintf(s.out, "%s %s.\n", a.SignIn, said)
		}
		return err
	})
}

func withAccount(ctx context.Context, cfg Config, s streams, name string, work func(*access.Room, access.Account) error) error {
	return withTables(ctx, cfg, s, func(b *book) error {
		r := newRooms(b.db).access
		a, err := r.AccountGetBySignIn(ctx, name)
		if fault.Is(err, fault.NotFound) {
			return fault.New(fault.NotFound, "Nobody signs in as %s. kerfbook user list shows who does.", name)
		}
		if err != nil {
			return err
		}
		return work(r, a)
	})
}

// choosePassword reads the password from file, or makes one.
func choosePassword(file string, in io.Reader) (password string, made bool, err error) {
	switch file {
	case "":
		return makePassword(), true, nil
	case "-":
	default:
		f, err := os.Open(file)
		if err != nil {
			return "", false, err
		}
		defer f.Close()
		in = f
	}
	line, err := bufio.NewReader(io.LimitReader(in, 4096)).ReadString('\n')
	if err != nil && err != io.EOF {
		return "", false, err
	}
	return strings.TrimRight(line, "\r\n"), false, nil
}

// makePassword gives four groups of five letters and digits: 100 bits.
func makePassword() string {
	text := strings.ToLower(rand.Text())
	return text[:5] + "-" + text[5:10] + "-" + text[10:15] + "-" + text[15:20]
}

func sayPassword(w io.Writer, said, password string, made bool) error {
	if made {
		said += " with the password " + password + " (shown this once)"
	}
	_, err := fmt.Fprintln(w, said+".")
	return err
}
