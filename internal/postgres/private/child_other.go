//go:build unix && !linux

package private

import (
	"os/exec"
	"strings"
	"syscall"
)

// childAttr puts a child in a process group of its own. Nothing here ends the server when
// the program is killed; the next start does (see stopLeftovers).
func childAttr(id identity, _ syscall.Signal) *syscall.SysProcAttr {
	return &syscall.SysProcAttr{Setpgid: true, Credential: id.credential()}
}

// FollowGoRun does nothing on this system.
func FollowGoRun() {}

// inFolder gives the process that postmaster.pid names, when it is a live postgres.
func inFolder(data string) []int {
	pid := postmasterPID(data)
	if pid <= 0 {
		return nil
	}
	out, err := exec.Command("ps", "-o", "comm=", "-p", itoa(pid)).Output()
	if err != nil || !strings.Contains(string(out), "postgres") {
		return nil
	}
	return []int{pid}
}

// dropPidFile leaves the pid file: the server itself judges whether it is stale.
func dropPidFile(string) error { return nil }
