package pgtest_test

import (
	"os"
	"os/exec"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/postgres"
	"kerfbook/internal/postgres/pgtest"
)

// playKilled makes this test program, started again, the one that is killed.
const playKilled = "KERFBOOK_PGTEST_KILLED"

func TestDatabasesAreMigratedAndApart(t *testing.T) {
	t.Parallel()
	latest, err := postgres.Latest()
	require.NoError(t, err)
	a, b := pgtest.DB(t), pgtest.DB(t)
	for _, db := range []*postgres.DB{a, b} {
		version, err := postgres.Version(t.Context(), db)
		require.NoError(t, err)
		require.Equal(t, latest, version)
		_, err = db.Exec(t.Context(), `CREATE TABLE mine (n int)`)
		require.NoError(t, err) // twice only in two databases
	}
}

func TestDatabaseIsDropped(t *testing.T) {
	t.Parallel()
	var name string
	t.Run("inner", func(t *testing.T) {
		require.NoError(t, pgtest.DB(t).QueryRow(t.Context(), `SELECT current_database()`).Scan(&name))
	})
	var there bool
	require.NoError(t, pgtest.Tx(t).QueryRow(t.Context(), `SELECT EXISTS (SELECT FROM pg_database WHERE datname = $1)`, name).Scan(&there))
	require.False(t, there)
}

func TestTxIsRolledBack(t *testing.T) {
	t.Parallel()
	for range 2 { // the second finds nothing of the first
		t.Run("inner", func(t *testing.T) {
			_, err := pgtest.Tx(t).Exec(t.Context(), `CREATE TABLE rolled_back (n int)`)
			require.NoError(t, err)
		})
	}
}

func TestKilledTestsLeaveNothing(t *testing.T) {
	if os.Getenv(playKilled) != "" {
		var folder string
		require.NoError(t, pgtest.EmptyDB(t).QueryRow(t.Context(), `SHOW data_directory`).Scan(&folder))
		require.NoError(t, os.WriteFile(os.Getenv(playKilled), []byte(folder), 0o600))
		require.NoError(t, syscall.Kill(os.Getpid(), syscall.SIGKILL))
	}
	t.Parallel()
	note := t.TempDir() + "/folder"
	cmd := exec.Command(os.Args[0], "-test.run=^TestKilledTestsLeaveNothing$")
	for _, v := range os.Environ() {
		if !strings.HasPrefix(v, "KERFBOOK_TEST_DATABASE_URL=") { // it is about the private server
			cmd.Env = append(cmd.Env, v)
		}
	}
	cmd.Env = append(cmd.Env, playKilled+"="+note)
	require.Error(t, cmd.Run())
	data, err := os.ReadFile(note)
	require.NoError(t, err)
	folder := strings.TrimSuffix(string(data), "/data")
	require.NotEqual(t, string(data), folder)
	require.Eventually(t, func() bool {
		_, err := os.Stat(folder)
		return os.IsNotExist(err)
	}, 15*time.Second, 20*time.Millisecond, "the server's folder is cleared away")
}
