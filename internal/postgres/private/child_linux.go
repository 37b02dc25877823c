package private

import (
	"errors"
	"os"
	"runtime"
	"strings"
	"syscall"
)

// childAttr puts a child in a process group of its own (a Ctrl-C is ours, not its) and
// has the kernel send it last when the thread that started it ends. Keep that thread: see
// supervise.
func childAttr(id identity, last syscall.Signal) *syscall.SysProcAttr {
	return &syscall.SysProcAttr{Setpgid: true, Pdeathsig: last, Credential: id.credential()}
}

// FollowGoRun has the kernel send us SIGTERM when our parent ends, if that parent is the
// go command: "go run" does not pass signals on. Call it once, early in main.
func FollowGoRun() {
	comm, err := os.ReadFile("/proc/" + itoa(os.Getppid()) + "/comm")
	if err != nil || strings.TrimSpace(string(comm)) != "go" {
		return
	}
	parent := os.Getppid()
	ready := make(chan struct{})
	go func() {
		runtime.LockOSThread() // the setting lives and dies with the thread
		const prSetPdeathsig = 1
		_, _, _ = syscall.RawSyscall(syscall.SYS_PRCTL, prSetPdeathsig, uintptr(syscall.SIGTERM), 0)
		close(ready)
		select {}
	}()
	<-ready
	if os.Getppid() != parent { // it ended in between
		_ = syscall.Kill(os.Getpid(), syscall.SIGTERM)
	}
}

// inFolder lists the live processes whose working folder is data: a postmaster and its
// backends all have it.
func inFolder(data string) []int {
	entries, err := os.ReadDir("/proc")
	if err != nil {
		return nil
	}
	var pids []int
	for _, e := range entries {
		pid := atoi(e.Name())
		if pid <= 0 {
			continue
		}
		if cwd, err := os.Readlink("/proc/" + e.Name() + "/cwd"); err == nil && cwd == data {
			pids = append(pids, pid)
		}
	}
	return pids
}

// dropPidFile removes the pid file of a server that is gone. Its process may live on as a
// zombie nobody collects (in a container), which the next server would take for alive; in
// inFolder it no longer shows.
func dropPidFile(data string) error {
	if err := os.Remove(data + "/postmaster.pid"); err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	return nil
}
