package private

import (
	"bufio"
	"fmt"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// followNote names the file in which this test program, started again, notes that it was
// told to end.
const followNote = "KERFBOOK_PRIVATE_FOLLOW"

// follow is what that program does.
func follow(note string) {
	told := make(chan os.Signal, 1)
	signal.Notify(told, syscall.SIGTERM)
	FollowGoRun()
	fmt.Println("ready")
	select {
	case <-told:
		_ = os.WriteFile(note, []byte("told"), 0o600)
	case <-time.After(time.Minute): // the test has failed by now
	}
	os.Exit(0)
}

// A shell under the name of the go command starts a program and is killed.
func TestFollowGoRun(t *testing.T) {
	t.Parallel()
	shell, err := os.ReadFile("/bin/sh")
	require.NoError(t, err)
	for _, tt := range []struct {
		parent string
		told   bool
	}{{"go", true}, {"sh", false}} {
		t.Run(tt.parent, func(t *testing.T) {
			t.Parallel()
			dir := t.TempDir()
			parent, note := filepath.Join(dir, tt.parent), filepath.Join(dir, "note")
			require.NoError(t, os.WriteFile(parent, shell, 0o755))
			cmd := exec.Command(parent, "-c", `"$0" & echo $!; wait`, os.Args[0])
			cmd.Env = append(os.Environ(), followNote+"="+note)
			out, err := cmd.StdoutPipe()
			require.NoError(t, err)
			require.NoError(t, cmd.Start())
			lines := bufio.NewReader(out)
			pid, err := lines.ReadString('\n')
			require.NoError(t, err)
			child := atoi(strings.TrimSpace(pid))
			require.NotZero(t, child)
			t.Cleanup(func() { _ = syscall.Kill(child, syscall.SIGKILL) })
			ready, err := lines.ReadString('\n')
			require.NoError(t, err)
			require.Equal(t, "ready\n", ready)
			require.NoError(t, cmd.Process.Kill())
			told := func() bool { _, err := os.Stat(note); return err == nil }
			if tt.told {
				require.Eventually(t, told, 60*time.Second, 10*time.Millisecond)
			} else {
				require.Never(t, told, 300*time.Millisecond, 50*time.Millisecond)
			}
		})
	}
}
