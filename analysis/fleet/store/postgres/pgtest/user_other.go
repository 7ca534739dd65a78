//go:build !unix

package pgtest

import (
	"os/exec"
	"path/filepath"
	"testing"
)

func (s *Server) become(testing.TB, string) {}

// Give hands a folder to the user that the server runs as, which is this one.
func (s *Server) Give(testing.TB, string) {}

func (s *Server) command(program string, args ...string) *exec.Cmd {
	return exec.Command(filepath.Join(s.bin, program), args...)
}
