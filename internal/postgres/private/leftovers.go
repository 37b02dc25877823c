//go:build unix

package private

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// stopLeftovers ends a server that still works in data, or the lone backends of a killed
// one. We hold the folder's lock, so whoever it is has lost its program. A postmaster is
// asked to stop in good order; backends without one have nothing to keep in order.
func stopLeftovers(data string) error {
	if pid := postmasterPID(data); slices.Contains(inFolder(data), pid) {
		_ = syscall.Kill(pid, syscall.SIGINT) // it may have ended since
		awaitEmpty(data, 10*time.Second)
	}
	for _, signal := range []syscall.Signal{syscall.SIGQUIT, syscall.SIGKILL} {
		for _, pid := range inFolder(data) {
			_ = syscall.Kill(pid, signal)
		}
		awaitEmpty(data, 3*time.Second)
	}
	if pids := inFolder(data); len(pids) > 0 {
		return fmt.Errorf("an earlier PostgreSQL still works in %s (processes %v) and does not stop: end it by hand", data, pids)
	}
	return dropPidFile(data)
}

// awaitEmpty waits until nobody works in data, at most for limit.
func awaitEmpty(data string, limit time.Duration) {
	for end := time.Now().Add(limit); time.Now().Before(end) && len(inFolder(data)) > 0; {
		time.Sleep(10 * time.Millisecond)
	}
}

// postmasterPID reads whom postmaster.pid names, 0 when there is none.
func postmasterPID(data string) int {
	text, err := os.ReadFile(filepath.Join(data, "postmaster.pid"))
	if err != nil {
		return 0
	}
	first, _, _ := strings.Cut(string(text), "\n")
	return atoi(strings.TrimSpace(first))
}

func itoa(n int) string { return strconv.Itoa(n) }

// atoi gives 0 for what is no number.
func atoi(s string) int {
	n, err := strconv.Atoi(s)
	if err != nil {
		return 0
	}
	return n
}
