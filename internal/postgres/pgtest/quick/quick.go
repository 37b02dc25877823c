// Package quick finds a folder in which tests make and drop databases quickly: in shared
// memory where the machine has enough of it, as containers often do not.
package quick

import (
	"os"
	"syscall"
)

const shared = "/dev/shm"

// enough is the free shared memory from which on it is used: a test program's server
// takes up to 300 MB, and several run at a time.
const enough = 2 << 30

// Parent gives the folder in which to make a folder for a server of tests. Other users
// can reach it, which is not so for a test's own TempDir.
func Parent() string {
	var fs syscall.Statfs_t
	if err := syscall.Statfs(shared, &fs); err == nil && uint64(fs.Bavail)*uint64(fs.Bsize) >= enough {
		if probe, err := os.MkdirTemp(shared, "kerfbook-probe-"); err == nil {
			_ = os.Remove(probe)
			return shared
		}
	}
	return os.TempDir()
}
