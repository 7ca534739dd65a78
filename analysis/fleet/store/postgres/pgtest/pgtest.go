// Package pgtest runs a PostgreSQL server of its own for tests.
package pgtest

import (
	"context"
	"fmt"
	"net"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/jackc/pgx/v5"
)

// Wanted names the variable that turns the skip for want of a server into a
// failure.
const Wanted = "COGLEDGER_POSTGRES"

// A Server is a PostgreSQL server on a loopback port. It does not wait for the
// disk: what it holds does not survive the machine.
type Server struct {
	URL  string // of its own database, with the rights of a superuser
	Port int

	bin, data string
	as        *user.User // who runs it; nil is this user
	made      atomic.Int32
}

// Password is the superuser's.
const Password = "not a secret"

// Start makes a server that ends with the test. Where PostgreSQL is not
// installed the test is skipped.
func Start(t testing.TB) *Server {
	t.Helper()
	bin := programs()
	if bin == "" {
		if os.Getenv(Wanted) != "" {
			t.Fatal("PostgreSQL is wanted by " + Wanted + " and not installed")
		}
		t.Skip("PostgreSQL is not installed (Debian: postgresql)")
	}
	s := &Server{bin: bin, Port: freePort(t)}
	folder, err := os.MkdirTemp("", "pgtest")
	must(t, err)
	t.Cleanup(func() { os.RemoveAll(folder) })
	s.data = filepath.Join(folder, "data")
	s.become(t, folder)
	secret := filepath.Join(folder, "password")
	must(t, os.WriteFile(secret, []byte(Password), 0o644))
	s.run(t, "initdb", "-D", s.data, "-U", "postgres", "-E", "UTF8", "--no-locale", "-A", "scram-sha-256", "--pwfile", secret, "--no-sync")
	s.start(t)
	t.Cleanup(func() { s.command("pg_ctl", "stop", "-D", s.data, "-m", "immediate", "-w").Run() })
	s.URL = s.Address("postgres", Password, "postgres")
	return s
}

// Address is the address of a database for a user.
func (s *Server) Address(name, password, database string) string {
	return fmt.Sprintf("postgres://%s:%s@127.0.0.1:%d/%s?sslmode=disable", name, strings.ReplaceAll(password, " ", "%20"), s.Port, database)
}

// Database makes an empty database and gives its address.
func (s *Server) Database(t testing.TB) string {
	t.Helper()
	name := fmt.Sprintf("fleet%d", s.made.Add(1))
	s.Exec(t, s.URL, "CREATE DATABASE "+name)
	return s.Address("postgres", Password, name)
}

// Exec runs statements in a database.
func (s *Server) Exec(t testing.TB, address string, statements ...string) {
	t.Helper()
	ctx := context.Background()
	conn, err := pgx.Connect(ctx, address)
	must(t, err)
	defer conn.Close(ctx)
	for _, statement := range statements {
		_, err := conn.Exec(ctx, statement)
		must(t, err)
	}
}

// Restart stops the server, breaking every connection, and starts it again.
func (s *Server) Restart(t testing.TB) {
	t.Helper()
	s.run(t, "pg_ctl", "stop", "-D", s.data, "-m", "immediate", "-w")
	s.start(t)
}

func (s *Server) start(t testing.TB) {
	t.Helper()
	options := fmt.Sprintf("-c listen_addresses=127.0.0.1 -c port=%d -c unix_socket_directories='' -c fsync=off -c full_page_writes=off -c max_connections=60", s.Port)
	s.run(t, "pg_ctl", "start", "-D", s.data, "-o", options, "-l", s.data+".log", "-w", "-t", "60")
}

func (s *Server) run(t testing.TB, program string, args ...string) {
	t.Helper()
	// Its output goes to no pipe: the server would hold that open.
	said, err := os.CreateTemp("", "pgtest")
	must(t, err)
	defer os.Remove(said.Name())
	defer said.Close()
	cmd := s.command(program, args...)
	cmd.Stdout, cmd.Stderr = said, said
	if err := cmd.Run(); err != nil {
		text, _ := os.ReadFile(said.Name())
		log, _ := os.ReadFile(s.data + ".log")
		t.Fatalf("%s: %v\n%s\n%s", program, err, text, log)
	}
}

// programs is the folder of PostgreSQL's server programs, the newest where
// there are several; empty where there are none.
func programs() string {
	if path, err := exec.LookPath("initdb"); err == nil {
		if real, err := filepath.EvalSymlinks(path); err == nil {
			return filepath.Dir(real)
		}
	}
	found, _ := filepath.Glob("/usr/lib/postgresql/*/bin/initdb")
	if len(found) == 0 {
		return ""
	}
	version := func(path string) int {
		n, _ := strconv.Atoi(strings.Split(path, "/")[4])
		return n
	}
	return filepath.Dir(slices.MaxFunc(found, func(a, b string) int { return version(a) - version(b) }))
}

func freePort(t testing.TB) int {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	must(t, err)
	defer l.Close()
	return l.Addr().(*net.TCPAddr).Port
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}
