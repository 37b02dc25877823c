//go:build unix

package private

import (
	"fmt"
	"os"
	"os/user"
	"path/filepath"
	"strconv"
	"syscall"
)

// identity is the user the server runs as. PostgreSQL refuses to run as root, so a
// program of root lends it the name of postgres, or nobody.
type identity struct {
	name     string
	uid, gid uint32
	switched bool // not the user of this program
}

// chooseIdentity finds who runs the server; an existing cluster at data keeps its owner.
func chooseIdentity(data string) (identity, error) {
	self := identity{name: "uid " + strconv.Itoa(os.Getuid()), uid: uint32(os.Getuid()), gid: uint32(os.Getgid())}
	info, err := os.Stat(data)
	if err == nil {
		st := info.Sys().(*syscall.Stat_t)
		if self.uid != 0 && st.Uid != self.uid {
			return identity{}, fmt.Errorf("%s belongs to another user (uid %d): run as that user or as root, or name another folder", data, st.Uid)
		}
		if self.uid == 0 && st.Uid != 0 {
			return identity{name: "uid " + strconv.Itoa(int(st.Uid)), uid: st.Uid, gid: st.Gid, switched: true}, nil
		}
	}
	if self.uid != 0 {
		return self, nil
	}
	for _, name := range []string{"postgres", "nobody"} {
		u, err := user.Lookup(name)
		if err != nil {
			continue
		}
		uid, err1 := strconv.ParseUint(u.Uid, 10, 32)
		gid, err2 := strconv.ParseUint(u.Gid, 10, 32)
		if err1 == nil && err2 == nil && uid != 0 {
			return identity{name: name, uid: uint32(uid), gid: uint32(gid), switched: true}, nil
		}
	}
	return identity{}, fmt.Errorf("PostgreSQL does not run as root and there is neither a user postgres nor nobody: start the program as another user")
}

// credential is what a child process gets, nil for our own.
func (id identity) credential() *syscall.Credential {
	if !id.switched {
		return nil
	}
	return &syscall.Credential{Uid: id.uid, Gid: id.gid}
}

// checkReach looks whether id may walk through every folder above path.
func (id identity) checkReach(path string) error {
	for dir := filepath.Dir(path); ; dir = filepath.Dir(dir) {
		info, err := os.Stat(dir)
		if err != nil {
			return err
		}
		if !id.mayEnter(info) {
			return fmt.Errorf("the server runs as %s, who may not enter %s (mode %04o): choose a data folder elsewhere, such as /var/lib/kerfbook, or open that folder with chmod o+x", id.name, dir, info.Mode().Perm())
		}
		if dir == filepath.Dir(dir) {
			return nil
		}
	}
}

func (id identity) mayEnter(info os.FileInfo) bool {
	st := info.Sys().(*syscall.Stat_t)
	mode := info.Mode().Perm()
	switch {
	case !id.switched:
		return true // we got here ourselves
	case st.Uid == id.uid:
		return mode&0o100 != 0
	case st.Gid == id.gid:
		return mode&0o010 != 0
	}
	return mode&0o001 != 0
}

// makeDir makes dir if need be, closes it to others and gives it to id.
func (id identity) makeDir(dir string) error {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	if id.switched {
		if err := os.Chown(dir, int(id.uid), int(id.gid)); err != nil {
			return err
		}
	}
	return os.Chmod(dir, 0o700)
}
