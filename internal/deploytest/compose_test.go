package deploytest

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/compose-spec/compose-go/v2/loader"
	"github.com/compose-spec/compose-go/v2/types"
	"github.com/stretchr/testify/require"
)

func read(t *testing.T, path ...string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(append([]string{"..", ".."}, path...)...))
	require.NoError(t, err)
	return string(b)
}

// The compose file follows the Compose Specification (compose-spec.io); its own library
// loads it, strictly.
func TestComposeFileLoads(t *testing.T) {
	t.Parallel()
	project, err := loader.LoadWithContext(t.Context(), types.ConfigDetails{
		WorkingDir:  "../..",
		ConfigFiles: []types.ConfigFile{{Filename: "../../docker-compose.yml"}},
		Environment: types.Mapping{"KERFBOOK_DB_PASSWORD": "a b/c"},
	})
	require.NoError(t, err)
	program, database := project.Services["kerfbook"], project.Services["database"]
	require.Equal(t, "deploy/Containerfile", program.Build.Dockerfile)
	require.Equal(t, "service_healthy", program.DependsOn["database"].Condition)
	require.NotNil(t, database.HealthCheck)
	require.Len(t, program.Ports, 1)
	require.Equal(t, "127.0.0.1", program.Ports[0].HostIP, "not reachable from other machines without the proxy")
	require.Empty(t, database.Ports, "the database is reached by the program alone")

	_, err = loader.LoadWithContext(t.Context(), types.ConfigDetails{WorkingDir: "../..", ConfigFiles: []types.ConfigFile{{Filename: "../../docker-compose.yml"}}, Environment: types.Mapping{}})
	require.ErrorContains(t, err, "KERFBOOK_DB_PASSWORD", "no password, no start")
}

func TestContainerFileBuildsTheProgramOfThisTree(t *testing.T) {
	t.Parallel()
	file := read(t, "deploy", "Containerfile")
	require.Contains(t, file, "go build -trimpath -o /kerfbook ./cmd/kerfbook")
	require.Contains(t, file, "USER kerfbook")
	mod := read(t, "go.mod")
	_, rest, _ := strings.Cut(mod, "\ngo ")
	version := strings.Join(strings.SplitN(strings.Fields(rest)[0], ".", 3)[:2], ".")
	require.Contains(t, file, "golang:"+version+"-", "the image has the Go that go.mod asks for")
}

func TestUnitsNameFilesThatAreThere(t *testing.T) {
	t.Parallel()
	require.Contains(t, read(t, "deploy", "kerfbook.service"), "ExecStart=/usr/local/bin/kerfbook serve")
	require.Contains(t, read(t, "deploy", "kerfbook-backup.service"), "ExecStart=/usr/local/lib/kerfbook/backup ")
	require.Contains(t, read(t, "deploy", "kerfbook-backup.timer"), "OnCalendar=")
	for _, script := range []string{"deploy/backup", "deploy/check", ".ci/run"} {
		info, err := os.Stat(filepath.Join("..", "..", script))
		require.NoError(t, err)
		require.NotZero(t, info.Mode()&0o111, "%s can be run", script)
		out, err := exec.CommandContext(t.Context(), "bash", "-n", filepath.Join("..", "..", script)).CombinedOutput()
		require.NoError(t, err, "%s: %s", script, out)
	}
}

// The backup script is run with a stand-in program that writes a file.
func TestBackupScriptCopiesToASecondPlaceAndThinsOut(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	bin, first, second := filepath.Join(dir, "bin"), filepath.Join(dir, "first"), filepath.Join(dir, "second")
	require.NoError(t, os.MkdirAll(bin, 0o755))
	require.NoError(t, os.MkdirAll(first, 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(bin, "kerfbook"), []byte("#!/bin/sh\n[ \"$1\" = backup ] && echo book > \"$2\"\n"), 0o755))
	for _, old := range []string{"kerfbook-2020-01-01-000000.kbk", "kerfbook-2020-01-02-000000.kbk", "kerfbook-2020-01-03-000000.kbk"} {
		require.NoError(t, os.WriteFile(filepath.Join(first, old), []byte("old"), 0o644))
	}
	script, err := filepath.Abs("../../deploy/backup")
	require.NoError(t, err)
	cmd := exec.CommandContext(t.Context(), script, first)
	cmd.Env = append(os.Environ(), "PATH="+bin+":"+os.Getenv("PATH"), "BACKUP_SECOND="+second, "BACKUP_KEEP=2")
	out, err := cmd.CombinedOutput()
	require.NoError(t, err, string(out))
	names := func(folder string) []string {
		list, err := filepath.Glob(filepath.Join(folder, "*"))
		require.NoError(t, err)
		return list
	}
	require.Len(t, names(first), 2, "the new one and the newest old one")
	require.Len(t, names(second), 1)
	require.Equal(t, filepath.Base(strings.TrimSpace(string(out))), filepath.Base(names(second)[0]))
}
