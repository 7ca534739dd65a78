//go:build unix

package pgtest

import (
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strconv"
	"syscall"
	"testing"
)

// become finds a user to run as: PostgreSQL refuses to run as root.
func (s *Server) become(t testing.TB, folder string) {
	t.Helper()
	if os.Geteuid() != 0 {
		return
	}
	for _, name := range []string{"postgres", "nobody"} {
		if u, err := user.Lookup(name); err == nil {
			s.as = u
			break
		}
	}
	if s.as == nil {
		t.Skip("PostgreSQL does not run as root, and there is no user postgres or nobody")
	}
	uid, gid := ids(s.as)
	must(t, os.Chown(folder, uid, gid))
	must(t, os.Chmod(folder, 0o755))
}

// Give hands a folder to the user that the server runs as.
func (s *Server) Give(t testing.TB, folder string) {
	t.Helper()
	if s.as != nil {
		uid, gid := ids(s.as)
		must(t, os.Chown(folder, uid, gid))
	}
}

// command is one of PostgreSQL's programs, to run as the user found.
func (s *Server) command(program string, args ...string) *exec.Cmd {
	cmd := exec.Command(filepath.Join(s.bin, program), args...)
	cmd.Dir = filepath.Dir(s.data)
	if s.as != nil {
		uid, gid := ids(s.as)
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}}
		cmd.Env = []string{"PATH=" + os.Getenv("PATH"), "HOME=" + cmd.Dir, "LC_ALL=C"}
	}
	return cmd
}

func ids(u *user.User) (uid, gid int) {
	uid, _ = strconv.Atoi(u.Uid)
	gid, _ = strconv.Atoi(u.Gid)
	return uid, gid
}
