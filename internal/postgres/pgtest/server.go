package pgtest

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/postgres"
	"kerfbook/internal/postgres/pgtest/quick"
	"kerfbook/internal/postgres/private"
	"kerfbook/migrations"
)

// templateLock is the advisory lock under which test programs make templates.
const templateLock = 0x6b65726674657374 // "kerftest"

// testServer is the PostgreSQL of this test program.
type testServer struct {
	url      string // of a database to administer from
	template string // migrated, copied for each test
	shared   string // migrated, for transactions that are rolled back
	strategy string // how databases are copied
}

var startOnce = sync.OnceValues(startServer)

func server(t testing.TB) *testServer {
	t.Helper()
	s, err := startOnce()
	if err != nil {
		t.Fatalf("pgtest: no PostgreSQL for the tests: %v", err)
	}
	return s
}

func startServer() (*testServer, error) {
	ctx, cancel := context.WithTimeout(context.Background(), 2*limit)
	defer cancel()
	s := &testServer{url: os.Getenv("KERFBOOK_TEST_DATABASE_URL")}
	if s.url == "" {
		address, err := startPrivate(ctx)
		if err != nil {
			return nil, err
		}
		s.url = address
		if err := s.chooseStrategy(ctx); err != nil {
			return nil, err
		}
	}
	if _, err := url.Parse(s.url); err != nil {
		return nil, fmt.Errorf("KERFBOOK_TEST_DATABASE_URL: %w", err)
	}
	if err := s.prepare(ctx); err != nil {
		return nil, err
	}
	return s, nil
}

// chooseStrategy has a server that does not wait for its disk copy databases as files,
// which takes half the time there. Before version 15 that was the only way, unnamed.
func (s *testServer) chooseStrategy(ctx context.Context) error {
	conn, err := pgx.Connect(ctx, s.url)
	if err != nil {
		return err
	}
	defer conn.Close(ctx)
	var named bool
	err = conn.QueryRow(ctx, `SELECT current_setting('server_version_num')::int >= 150000`).Scan(&named)
	if named {
		s.strategy = "STRATEGY FILE_COPY"
	}
	return err
}

// startPrivate starts a server in a folder that a small shell process clears away when
// this program has ended: tests have no last word of their own, and may be killed.
func startPrivate(ctx context.Context) (string, error) {
	parent := quick.Parent()
	sweep(parent)
	dir, err := os.MkdirTemp(parent, "kerfbook-test-")
	if err != nil {
		return "", err
	}
	if reaper, err = startReaper(dir); err != nil {
		_ = os.RemoveAll(dir)
		return "", err
	}
	srv, err := private.Start(ctx, private.Options{Dir: dir, Throwaway: true})
	if err != nil {
		_ = reaper.Close() // it clears away
		return "", err
	}
	return srv.URL(), nil
}

// reaperScript waits until its input ends, which is when this program does, then stops
// the server of folder $1 and removes the folder.
const reaperScript = `cat >/dev/null
pid=$(head -n 1 "$1/data/postmaster.pid" 2>/dev/null)
n=0
while [ -n "$pid" ] && [ $n -lt 200 ] && kill -QUIT "$pid" 2>/dev/null; do sleep 0.05; n=$((n+1)); done
rm -rf "$1"`

func startReaper(dir string) (io.Closer, error) {
	cmd := exec.Command("/bin/sh", "-c", reaperScript, "sh", dir)
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true} // a Ctrl-C is not for it
	in, err := cmd.StdinPipe()
	if err != nil {
		return nil, err
	}
	return in, cmd.Start()
}

// reaper is the reaper's input, held open for as long as the program lives.
var reaper io.Closer

// sweep removes folders whose program and reaper were both killed.
func sweep(parent string) {
	dirs, _ := filepath.Glob(filepath.Join(parent, "kerfbook-test-*")) // the pattern is well-formed
	for _, dir := range dirs {
		info, err := os.Stat(dir)
		if err != nil || time.Since(info.ModTime()) < 10*time.Minute {
			continue
		}
		f, err := os.Open(filepath.Join(dir, "lock"))
		if err != nil {
			continue
		}
		if syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB) == nil {
			_ = os.RemoveAll(dir)
		}
		_ = f.Close()
	}
}

// prepare makes the template and the shared database of the present migrations, unless
// the server has them from another run.
func (s *testServer) prepare(ctx context.Context) error {
	sum, err := migrationHash()
	if err != nil {
		return err
	}
	s.template, s.shared = "kerfbook_template_"+sum, "kerfbook_shared_"+sum
	conn, err := pgx.Connect(ctx, s.url)
	if err != nil {
		return err
	}
	defer conn.Close(ctx)
	if _, err := conn.Exec(ctx, `SELECT pg_advisory_lock($1)`, int64(templateLock)); err != nil {
		return err
	}
	if err := s.ensure(ctx, conn, s.template, "template0", true); err != nil {
		return fmt.Errorf("make the template database: %w", err)
	}
	return s.ensure(ctx, conn, s.shared, s.template, false)
}

// ensure makes database name, under another name until it is whole.
func (s *testServer) ensure(ctx context.Context, conn *pgx.Conn, name, from string, migrate bool) error {
	var there bool
	if err := conn.QueryRow(ctx, `SELECT EXISTS (SELECT FROM pg_database WHERE datname = $1)`, name).Scan(&there); err != nil || there {
		return err
	}
	half := name + "_new"
	for _, sql := range []string{"DROP DATABASE IF EXISTS " + half + " WITH (FORCE)", "CREATE DATABASE " + half + " TEMPLATE " + from} {
		if _, err := conn.Exec(ctx, sql); err != nil {
			return err
		}
	}
	if migrate {
		if err := migrateDatabase(ctx, s.address(half)); err != nil {
			return err
		}
	}
	_, err := conn.Exec(ctx, "ALTER DATABASE "+half+" RENAME TO "+name)
	return err
}

func migrateDatabase(ctx context.Context, address string) error {
	db, err := postgres.Open(ctx, address)
	if err != nil {
		return err
	}
	defer db.Close()
	return postgres.Migrate(ctx, db)
}

// migrationHash names the present migrations.
func migrationHash() (string, error) {
	files, err := fs.Glob(migrations.FS, "*.up.sql")
	if err != nil {
		return "", err
	}
	h := sha256.New()
	for _, file := range files { // Glob sorts
		text, err := fs.ReadFile(migrations.FS, file)
		if err != nil {
			return "", err
		}
		fmt.Fprintf(h, "%s %d\n%s", file, len(text), text)
	}
	return hex.EncodeToString(h.Sum(nil))[:12], nil
}
