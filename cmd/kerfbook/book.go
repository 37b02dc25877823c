package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"time"

	"kerfbook/internal/postgres"
	"kerfbook/internal/postgres/private"
)

// book is an open database, with our own server below it where none was named.
type book struct {
	db     *postgres.DB
	server *private.Server
	note   string // file that tells other commands where our own server is
}

// addressFile stands in the data folder while our own server runs, so that backup, user
// and the like reach it.
const addressFile = "address"

// openBook reaches the database the configuration names, or starts our own. When our own
// is in use by a running kerfbook, it is shared.
func openBook(ctx context.Context, cfg Config, log *slog.Logger) (*book, error) {
	if cfg.DatabaseURL != "" {
		db, err := postgres.Open(ctx, cfg.DatabaseURL)
		return &book{db: db}, err
	}
	note := filepath.Join(cfg.Data, addressFile)
	srv, err := private.Start(ctx, private.Options{Dir: cfg.Data, BinDir: cfg.PostgresBin, Log: log})
	if errors.Is(err, private.ErrInUse) {
		return shareBook(ctx, note, err)
	}
	if err != nil {
		return nil, err
	}
	b := &book{server: srv, note: note}
	if b.db, err = postgres.Open(ctx, srv.URL()); err == nil {
		err = os.WriteFile(note, []byte(srv.URL()+"\n"), 0o600)
	}
	if err != nil {
		return nil, errors.Join(err, b.close(ctx))
	}
	return b, nil
}

// shareBook reaches the server another kerfbook has started in the same folder.
func shareBook(ctx context.Context, note string, inUse error) (*book, error) {
	text, err := os.ReadFile(note)
	if err != nil {
		return nil, inUse
	}
	db, err := postgres.Open(ctx, strings.TrimSpace(string(text)))
	if err != nil {
		return nil, fmt.Errorf("%w (%v)", inUse, err)
	}
	return &book{db: db}, nil
}

// own reports whether the database's server was started here.
func (b *book) own() bool { return b.server != nil }

// close ends the pool, and our own server.
func (b *book) close(ctx context.Context) error {
	if b.db != nil {
		b.db.Close()
	}
	if b.server == nil {
		return nil
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), 30*time.Second)
	defer cancel()
	err := b.server.Stop(ctx)
	if rm := os.Remove(b.note); !errors.Is(rm, os.ErrNotExist) {
		err = errors.Join(err, rm)
	}
	return err
}

// withBook opens the book for one piece of work and closes it.
func withBook(ctx context.Context, cfg Config, s streams, work func(*book) error) error {
	b, err := openBook(ctx, cfg, cfg.logger(s.err))
	if err != nil {
		return err
	}
	return errors.Join(work(b), b.close(ctx))
}

// withTables is withBook for work that needs this program's tables.
func withTables(ctx context.Context, cfg Config, s streams, work func(*book) error) error {
	return withBook(ctx, cfg, s, func(b *book) error {
		if err := postgres.Migrate(ctx, b.db); err != nil {
			return err
		}
		return work(b)
	})
}

type migrateCmd struct{}

// Run brings the tables up to date.
func (migrateCmd) Run(ctx context.Context, cfg Config, s streams) error {
	return withTables(ctx, cfg, s, func(b *book) error {
		v, err := postgres.Version(ctx, b.db)
		if err == nil {
			_, err = fmt.Fprintf(s.out, "The tables are at version %d.\n", v)
		}
		return err
	})
}
