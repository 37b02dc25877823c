package internal_test

import (
	"encoding/json"
	"errors"
	"go/parser"
	"go/token"
	"io"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// listed is what the go command says of one of our packages.
type listed struct {
	ImportPath   string
	Dir          string
	GoFiles      []string
	TestGoFiles  []string
	XTestGoFiles []string
	Imports      []string
	Deps         []string
}

func packages(t *testing.T) []listed {
	t.Helper()
	cmd := exec.Command("go", "list", "-deps=false", "-json=ImportPath,Dir,GoFiles,TestGoFiles,XTestGoFiles,Imports,Deps", "kerfbook/...")
	out, err := cmd.Output()
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		t.Fatalf("go list: %s", exit.Stderr)
	}
	require.NoError(t, err)
	var list []listed
	for d := json.NewDecoder(strings.NewReader(string(out))); ; {
		var p listed
		err := d.Decode(&p)
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(t, err)
		list = append(list, p)
	}
	require.NotEmpty(t, list)
	return list
}

// under reports whether path is one of the packages in the list, or below one.
func under(path string, list ...string) bool {
	for _, p := range list {
		if path == p || strings.HasPrefix(path, p+"/") {
			return true
		}
	}
	return false
}

func rooms(names ...string) []string {
	for i, n := range names {
		names[i] = "kerfbook/internal/" + n
	}
	return names
}

var (
	calc        = rooms("calc")
	faces       = rooms("rest", "web")
	answers     = rooms("answer")
	recordRooms = rooms("sales", "timber", "workshop", "apiary", "handover", "books", "access", "house", "searches")
	ground      = rooms("postgres", "fault")
	support     = rooms("postgres/pgtest", "eyes", "calc/printed") // for tests only
)

// rule forbids packages under from to depend, even through others, on what bad names.
type rule struct {
	name   string
	from   []string
	bad    func(dep string) bool
	reason string
}

var rules = []rule{
	{"calc stays pure", calc, func(d string) bool {
		return strings.Contains(strings.Split(d, "/")[0], ".") && !under(d, "gonum.org/v1/gonum", "github.com/shopspring/decimal") ||
			under(d, "net", "log", "os/exec", "testing") || d == "database/sql" ||
			under(d, "kerfbook") && !under(d, calc...)
	}, "calculations are pure functions: they can be checked against handbooks, run without a database and moved to any machine"},
	{"only the command knows the faces", append(append(append(answers, recordRooms...), ground...), rooms("claims", "paper", "show", "door")...),
		func(d string) bool { return under(d, faces...) || under(d, "github.com/labstack/echo/v4") },
		"rooms are called by pages, by REST and by commands alike; one that knows a face works for that face only"},
	{"records do not know answers", append(append(recordRooms, ground...), rooms("claims")...), func(d string) bool { return under(d, answers...) },
		"answer joins rooms; a room that asks it back would close a circle"},
	{"claims stand below the records", append(ground, rooms("claims")...), func(d string) bool {
		return under(d, recordRooms...) && !under(d, rooms("house")...)
	}, "putting aside is one place that all rooms share; it must not need any of them"},
	{"the database room knows no record", rooms("postgres"), func(d string) bool {
		return under(d, append(recordRooms, rooms("claims", "paper", "door")...)...)
	}, "postgres is the only door to the database and knows no table of a room"},
	{"papers are pure", rooms("paper"), func(d string) bool {
		return under(d, append(recordRooms, rooms("postgres", "claims")...)...) || under(d, "github.com/jackc/pgx/v5", "net/http")
	}, "a paper is a function of what it is given, so that a reprint is the same bytes"},
	{"rest does not know web", rooms("rest"), func(d string) bool { return under(d, rooms("web")...) }, "the faces never meet; what both need is in door"},
	{"web does not know rest", rooms("web"), func(d string) bool { return under(d, rooms("rest")...) }, "the faces never meet; what both need is in door"},
	{"test support stays in tests", []string{"kerfbook"}, func(d string) bool { return under(d, support...) || d == "testing" },
		"the program must not carry what only tests need"},
}

func TestArrows(t *testing.T) {
	t.Parallel()
	for _, p := range packages(t) {
		if under(p.ImportPath, support...) || len(p.GoFiles) == 0 {
			continue
		}
		for _, r := range rules {
			if !under(p.ImportPath, r.from...) {
				continue
			}
			for _, d := range p.Deps {
				if r.bad(d) {
					t.Errorf("%s depends on %s\n  %s: %s", p.ImportPath, d, r.name, r.reason)
				}
			}
		}
	}
}

// Record rooms form no circle: Go refuses a circle of imports; here the rule is stronger,
// and one record room may know another (beside house) only along this list.
var mayKnow = map[string][]string{
	"workshop": {"timber"}, // finishing a build moves stock in the same transaction
}

func TestRecordRoomsMeetInAnswer(t *testing.T) {
	t.Parallel()
	for _, p := range packages(t) {
		from := strings.TrimPrefix(p.ImportPath, "kerfbook/internal/")
		if !under(p.ImportPath, recordRooms...) {
			continue
		}
		for _, d := range p.Imports {
			to := strings.TrimPrefix(d, "kerfbook/internal/")
			if !under(d, recordRooms...) || to == from || to == "house" {
				continue
			}
			require.Contains(t, mayKnow[from], to, "%s imports %s: pass ids, or meet in answer", from, to)
		}
	}
}

// Every package says what it is for.
func TestPackageComments(t *testing.T) {
	t.Parallel()
	for _, p := range packages(t) {
		said := len(p.GoFiles) == 0
		for _, name := range p.GoFiles {
			f, err := parser.ParseFile(token.NewFileSet(), filepath.Join(p.Dir, name), nil, parser.PackageClauseOnly|parser.ParseComments)
			require.NoError(t, err)
			said = said || (f.Doc != nil && len(f.Doc.Text()) > 40)
		}
		if !said {
			t.Errorf("package %s has no package comment", p.ImportPath)
		}
	}
}
