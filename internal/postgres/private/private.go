//go:build unix

package private

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"sync/atomic"
	"syscall"
	"time"

	"github.com/jackc/pgx/v5"
)

const (
	userName     = "kerfbook"
	databaseName = "kerfbook"
	socketName   = ".s.PGSQL.5432"
	// maxSocketPath is what sun_path holds without its final NUL on Linux (unix(7)); 103 on macOS.
	maxSocketPath = 103
	startLimit    = 60 * time.Second // recovery after a crash may take a while
	restartPause  = 200 * time.Millisecond
)

var discard = slog.New(slog.DiscardHandler)

// ErrInUse means that another program holds the folder.
var ErrInUse = errors.New("another kerfbook is using this data folder: stop it first, or name another folder")

// Server is a running private PostgreSQL.
type Server struct {
	opts      Options
	id        identity
	bin       binaries
	data, run string
	lock      *os.File

	stopping chan struct{}              // closed by Stop
	done     chan struct{}              // closed when the supervisor has ended
	process  atomic.Pointer[os.Process] // the newest postmaster
	answered atomic.Bool                // it has answered once
}

// Start makes the cluster in o.Dir if there is none, starts the server and waits until it
// answers and the database is there. The server then lives until Stop: when it dies it is
// started again. ErrInUse when another program holds the folder.
func Start(ctx context.Context, o Options) (*Server, error) {
	if o.Log == nil {
		o.Log = discard
	}
	dir, err := prepareDir(o.Dir)
	if err != nil {
		return nil, err
	}
	o.Dir = dir
	s := &Server{opts: o, data: filepath.Join(dir, "data"), run: filepath.Join(dir, "run"),
		stopping: make(chan struct{}), done: make(chan struct{})}
	if s.lock, err = lockDir(dir); err != nil {
		return nil, err
	}
	if err := s.start(ctx); err != nil {
		_ = s.lock.Close()
		return nil, fmt.Errorf("private PostgreSQL in %s: %w", dir, err)
	}
	return s, nil
}

// prepareDir gives the real path of dir, made and passable (0711).
func prepareDir(dir string) (string, error) {
	if dir == "" {
		return "", errors.New("private PostgreSQL: name a data folder")
	}
	if err := os.MkdirAll(dir, 0o711); err != nil {
		return "", err
	}
	if err := os.Chmod(dir, 0o711); err != nil {
		return "", err
	}
	dir, err := filepath.Abs(dir)
	if err != nil {
		return "", err
	}
	return filepath.EvalSymlinks(dir) // /proc names working folders by their real path
}

func lockDir(dir string) (*os.File, error) {
	f, err := os.OpenFile(filepath.Join(dir, "lock"), os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, err
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		_ = f.Close()
		return nil, fmt.Errorf("%s: %w", dir, ErrInUse)
	}
	return f, nil
}

func (s *Server) start(ctx context.Context) error {
	var err error
	if s.id, err = chooseIdentity(s.data); err != nil {
		return err
	}
	if err := s.id.checkReach(s.data); err != nil {
		return err
	}
	major, err := clusterMajor(s.data)
	if err != nil {
		return err
	}
	if s.bin, err = findBinaries(ctx, s.opts, filepath.Join(s.opts.Dir, "npm"), major); err != nil {
		return err
	}
	if err := s.id.checkReach(s.bin.path("postgres")); err != nil {
		return err
	}
	if err := stopLeftovers(s.data); err != nil {
		return err
	}
	if major == 0 {
		if err := s.initCluster(ctx); err != nil {
			return err
		}
	}
	if err := s.socketDir(); err != nil {
		return err
	}
	go s.supervise()
	if err := s.await(ctx); err != nil {
		limit, cancel := context.WithTimeout(context.WithoutCancel(ctx), 10*time.Second)
		defer cancel()
		return errors.Join(err, s.halt(limit))
	}
	return nil
}

// initCluster makes the cluster beside its place and moves it there when it is whole.
func (s *Server) initCluster(ctx context.Context) error {
	fresh := s.data + ".new"
	if err := os.RemoveAll(fresh); err != nil {
		return err
	}
	if err := s.id.makeDir(fresh); err != nil {
		return err
	}
	args := []string{"-D", fresh, "-U", userName, "--auth=trust", "--encoding=UTF8", "--locale=C", "--no-instructions"}
	if s.opts.Throwaway {
		args = append(args, "--no-sync")
	}
	cmd := exec.CommandContext(ctx, s.bin.path("initdb"), args...)
	cmd.Dir, cmd.Env, cmd.SysProcAttr = fresh, environment(), childAttr(s.id, syscall.SIGKILL)
	runtime.LockOSThread() // childAttr ties the child to this thread
	defer runtime.UnlockOSThread()
	if out, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("initdb: %w: %s", err, lastLine(out))
	}
	return os.Rename(fresh, s.data)
}

// environment is all that the server's programs see of ours.
func environment() []string {
	return []string{"PATH=" + os.Getenv("PATH"), "TZ=UTC", "LC_ALL=C"}
}

// socketDir makes the folder of the socket; where its path would be too long, a short
// one in the system's temporary folder.
func (s *Server) socketDir() error {
	if len(filepath.Join(s.run, socketName)) > maxSocketPath {
		short, err := os.MkdirTemp("", "kerfbook-")
		if err != nil {
			return err
		}
		s.run = short
	}
	// A socket's lock left by a killed server names a process number that may be in use again.
	if err := os.RemoveAll(s.run); err != nil {
		return err
	}
	return s.id.makeDir(s.run)
}

// URL is the address for postgres.Open.
func (s *Server) URL() string { return s.address(databaseName) }

func (s *Server) address(database string) string {
	q := url.Values{"host": {s.run}, "user": {userName}}
	return "postgres:///" + database + "?" + q.Encode()
}

// BinDir is the folder of the server's programs (it may lack pg_dump).
func (s *Server) BinDir() string { return s.bin.dir }

// Stop ends the server in good order: open sessions are broken off, what was committed
// is on disk. When ctx ends first, it is ended at once and recovers at the next start.
func (s *Server) Stop(ctx context.Context) error {
	err := s.halt(ctx)
	if filepath.Dir(s.run) != s.opts.Dir {
		err = errors.Join(err, os.RemoveAll(s.run))
	}
	return errors.Join(err, s.lock.Close())
}

// await waits for the server's first answer and makes the database if need be.
func (s *Server) await(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(ctx, startLimit)
	defer cancel()
	for {
		conn, err := pgx.Connect(ctx, s.address("postgres"))
		if err == nil {
			s.answered.Store(true)
			defer conn.Close(context.WithoutCancel(ctx))
			return createDatabase(ctx, conn)
		}
		select {
		case <-ctx.Done():
			return fmt.Errorf("the server does not answer (%w): see %s", err, s.logFile())
		case <-s.done:
			return fmt.Errorf("the server ended at once: %s (more in %s)", s.lastWords(), s.logFile())
		case <-time.After(10 * time.Millisecond):
		}
	}
}

func createDatabase(ctx context.Context, conn *pgx.Conn) error {
	var there bool
	if err := conn.QueryRow(ctx, `SELECT EXISTS (SELECT FROM pg_database WHERE datname = $1)`, databaseName).Scan(&there); err != nil {
		return err
	}
	if there {
		return nil
	}
	_, err := conn.Exec(ctx, `CREATE DATABASE `+databaseName)
	return err
}
