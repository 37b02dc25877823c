//go:build unix

package private

import (
	"fmt"
	"strconv"
	"syscall"
	"time"
)

// stopLeftovers ends a server (or a lone backend of a killed one) that still works in
// data. We hold the folder's lock, so whoever it is has lost its program. First the
// polite signal, then the ruder ones.
func stopLeftovers(data string) error {
	steps := []struct {
		signal syscall.Signal
		wait   time.Duration
	}{{syscall.SIGINT, 10 * time.Second}, {syscall.SIGQUIT, 5 * time.Second}, {syscall.SIGKILL, 5 * time.Second}}
	for _, s := range steps {
		pids := inFolder(data)
		for _, pid := range pids {
			_ = syscall.Kill(pid, s.signal) // it may have ended since
		}
		for end := time.Now().Add(s.wait); time.Now().Before(end) && len(inFolder(data)) > 0; {
			time.Sleep(10 * time.Millisecond)
		}
	}
	if pids := inFolder(data); len(pids) > 0 {
		return fmt.Errorf("an earlier PostgreSQL still works in %s (processes %v) and does not stop: end it by hand", data, pids)
	}
	return dropPidFile(data)
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
