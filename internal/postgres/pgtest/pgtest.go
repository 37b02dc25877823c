// Package pgtest gives tests a PostgreSQL: a migrated database of their own, or a
// transaction that is rolled back. Production code must not import it.
//
// The server is the one of KERFBOOK_TEST_DATABASE_URL (a superuser's address), else a
// private one for each test program, in shared memory where there is any, which ends
// with the program however that ends. Where neither can be had the test fails.
package pgtest

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"fmt"
	"net/url"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/postgres"
)

// limit is how long making or dropping a database may take on a busy machine.
const limit = 60 * time.Second

// DB gives t a migrated database of its own, dropped when t ends.
func DB(t testing.TB, opts ...postgres.Option) *postgres.DB {
	t.Helper()
	return open(t, URL(t), opts...)
}

// URL is DB for tests that open the database themselves, such as two servers on one.
func URL(t testing.TB) string {
	t.Helper()
	srv := server(t)
	return srv.create(t, srv.template)
}

// EmptyDB gives t a database of its own without any table, for tests of migrations and
// archives.
func EmptyDB(t testing.TB, opts ...postgres.Option) *postgres.DB {
	t.Helper()
	return open(t, EmptyURL(t), opts...)
}

// EmptyURL is the address of a database of t's own without any table.
func EmptyURL(t testing.TB) string {
	t.Helper()
	return server(t).create(t, "template0")
}

// Tx gives t a transaction on a migrated database that others use as well; it is rolled
// back when t ends. It is the quickest way to a database, for tests that need no commit.
func Tx(t testing.TB) pgx.Tx {
	t.Helper()
	srv := server(t)
	ctx, cancel := context.WithTimeout(t.Context(), limit)
	defer cancel()
	conn, err := pgx.Connect(ctx, srv.address(srv.shared))
	if err != nil {
		t.Fatalf("pgtest: connect: %v", err)
	}
	postgres.RegisterTypes(conn.TypeMap())
	tx, err := conn.Begin(ctx)
	if err != nil {
		t.Fatalf("pgtest: begin: %v", err)
	}
	t.Cleanup(func() { // t.Context is over by now; closing rolls back
		ctx, cancel := context.WithTimeout(context.Background(), limit)
		defer cancel()
		_ = conn.Close(ctx)
	})
	return tx
}

func open(t testing.TB, address string, opts ...postgres.Option) *postgres.DB {
	t.Helper()
	db, err := postgres.Open(t.Context(), address, opts...)
	if err != nil {
		t.Fatalf("pgtest: open: %v", err)
	}
	t.Cleanup(db.Close)
	return db
}

// create makes a database from a template and drops it when t ends.
func (s *testServer) create(t testing.TB, template string) string {
	t.Helper()
	name := "kerfbook_test_" + token()
	ctx, cancel := context.WithTimeout(t.Context(), limit)
	defer cancel()
	if err := s.admin(ctx, fmt.Sprintf("CREATE DATABASE %s TEMPLATE %s %s", name, template, s.strategy)); err != nil {
		t.Fatalf("pgtest: create database: %v", err)
	}
	t.Cleanup(func() {
		ctx, cancel := context.WithTimeout(context.Background(), limit)
		defer cancel()
		if err := s.admin(ctx, fmt.Sprintf("DROP DATABASE %s WITH (FORCE)", name)); err != nil {
			t.Errorf("pgtest: drop database: %v", err)
		}
	})
	return s.address(name)
}

// admin runs one statement on a connection of its own.
func (s *testServer) admin(ctx context.Context, sql string) error {
	conn, err := pgx.Connect(ctx, s.url)
	if err != nil {
		return err
	}
	defer conn.Close(ctx)
	_, err = conn.Exec(ctx, sql)
	return err
}

// address is the server's URL with another database.
func (s *testServer) address(database string) string {
	u, err := url.Parse(s.url)
	if err != nil {
		panic(err) // startServer parsed it
	}
	u.Path = "/" + database
	return u.String()
}

func token() string {
	b := make([]byte, 6)
	_, _ = rand.Read(b) // never fails, see crypto/rand
	return hex.EncodeToString(b)
}
