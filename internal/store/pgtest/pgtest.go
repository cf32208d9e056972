// Package pgtest starts a real PostgreSQL for tests: a new cluster in a temporary folder that only a
// socket in that folder leads to. A machine without PostgreSQL fails the test; nothing is skipped.
//
// Start gives the one server of the test process, which Main stops at the end:
//
//	func TestMain(m *testing.M) { pgtest.Main(m) }
//
// New gives a test a server of its own, which it may break.
package pgtest

import (
	"bytes"
	"context"
	"crypto/rand"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
)

// Server is one PostgreSQL with its own cluster.
type Server struct {
	bin, folder string
	settings    []string
	process     *exec.Cmd
	output      *os.File
}

var shared struct {
	sync.Mutex
	server *Server
	err    error
}

// Start gives the server that all tests of the process share. Don't stop or kill it.
func Start(t testing.TB) *Server {
	t.Helper()
	shared.Lock()
	defer shared.Unlock()
	if shared.server == nil && shared.err == nil {
		shared.server, shared.err = create(nil)
	}
	if shared.err != nil {
		t.Fatal(shared.err)
	}
	return shared.server
}

// Main runs the tests of a package and stops the shared server.
func Main(m *testing.M) {
	code := m.Run()
	if shared.server != nil {
		shared.server.remove()
	}
	os.Exit(code)
}

// New gives a server of the test's own. Each setting is like "fsync=off".
func New(t testing.TB, settings ...string) *Server {
	t.Helper()
	s, err := create(settings)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.remove)
	return s
}

func create(settings []string) (*Server, error) {
	bin, err := programs()
	if err != nil {
		return nil, err
	}
	folder, err := os.MkdirTemp("", "wreath-pg-") // short: the name of a socket has at most 107 bytes
	if err != nil {
		return nil, err
	}
	s := &Server{bin: bin, folder: folder, settings: settings}
	if err := s.begin(); err != nil {
		s.remove()
		return nil, err
	}
	return s, nil
}

// programs finds the folder with the programs of the server. It leaves PATH alone: what stands there
// may be a link that the server's user can't follow.
func programs() (string, error) {
	var folders []string
	if out, err := exec.Command("pg_config", "--bindir").Output(); err == nil {
		folders = append(folders, strings.TrimSpace(string(out)))
	}
	debian, err := filepath.Glob("/usr/lib/postgresql/*/bin")
	if err != nil {
		return "", err
	}
	for _, folder := range append(folders, debian...) {
		if _, err := os.Stat(filepath.Join(folder, "initdb")); err == nil {
			return folder, nil
		}
	}
	return "", fmt.Errorf("this test needs the server of PostgreSQL 15 or newer, and none is here: on Debian, apt-get install postgresql; elsewhere, put its pg_config on PATH")
}

func (s *Server) begin() error {
	if err := give(s.folder); err != nil {
		return err
	}
	initdb := s.command("initdb", "-D", s.data(), "-U", "postgres", "-A", "trust", "-N", "-E", "UTF8", "--no-locale")
	if out, err := initdb.CombinedOutput(); err != nil {
		return fmt.Errorf("initdb: %w\n%s", err, out)
	}
	return s.run()
}

func (s *Server) data() string { return filepath.Join(s.folder, "data") }

// command runs one of the server's programs as the user that may.
func (s *Server) command(name string, args ...string) *exec.Cmd {
	c := exec.Command(filepath.Join(s.bin, name), args...)
	c.Dir = s.folder
	c.Env = append(os.Environ(), "LC_ALL=C")
	c.SysProcAttr = attributes()
	return c
}

func (s *Server) run() error {
	args := []string{"-D", s.data(), "-k", s.folder, "-c", "listen_addresses=", "-c", "max_connections=200"}
	for _, setting := range s.settings {
		args = append(args, "-c", setting)
	}
	output, err := os.Create(filepath.Join(s.folder, "log"))
	if err != nil {
		return err
	}
	s.output = output
	s.process = s.command("postgres", args...)
	s.process.Stdout, s.process.Stderr = output, output
	if err := s.process.Start(); err != nil {
		s.process = nil
		return err
	}
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	for {
		conn, err := pgx.Connect(ctx, s.address("postgres"))
		if err == nil {
			return conn.Close(ctx)
		}
		if ctx.Err() != nil || gone(s.process.Process.Pid) {
			said, _ := os.ReadFile(output.Name())
			return fmt.Errorf("the server did not come up: %w\n%s", err, bytes.TrimSpace(said))
		}
		time.Sleep(20 * time.Millisecond)
	}
}

func (s *Server) address(database string) string {
	return "host=" + s.folder + " user=postgres sslmode=disable dbname=" + database
}

// Socket is the file of the server's socket.
func (s *Server) Socket() string { return filepath.Join(s.folder, ".s.PGSQL.5432") }

// Database makes a new, empty database and gives its address. It is dropped after the test.
func (s *Server) Database(t testing.TB) string {
	t.Helper()
	name := "t" + strings.ToLower(rand.Text())
	if err := s.admin(`create database ` + name); err != nil {
		t.Fatalf("make a database: %v", err)
	}
	t.Cleanup(func() {
		if s.process == nil {
			return // it goes with its server
		}
		if err := s.admin(`drop database ` + name + ` with (force)`); err != nil {
			t.Errorf("drop a database: %v", err)
		}
	})
	return s.address(name)
}

func (s *Server) admin(statement string) error {
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	conn, err := pgx.Connect(ctx, s.address("postgres"))
	if err != nil {
		return err
	}
	defer conn.Close(ctx)
	_, err = conn.Exec(ctx, statement)
	return err
}

// Stop ends the server as an administrator does, without waiting for its clients.
func (s *Server) Stop(t testing.TB) {
	t.Helper()
	if s.process == nil {
		return
	}
	if err := s.end(syscall.SIGINT); err != nil {
		t.Fatalf("stop the server: %v", err)
	}
}

// Kill ends the server and all of its processes at once, as a crash does.
func (s *Server) Kill(t testing.TB) {
	t.Helper()
	if s.process == nil {
		return
	}
	if err := s.end(syscall.SIGKILL); err != nil {
		t.Fatalf("kill the server: %v", err)
	}
}

// Restart starts a server that was stopped or killed; one that runs is stopped first. Settings, if
// any, replace the earlier ones.
func (s *Server) Restart(t testing.TB, settings ...string) {
	t.Helper()
	s.Stop(t)
	if len(settings) > 0 {
		s.settings = settings
	}
	if err := s.run(); err != nil {
		t.Fatalf("start the server again: %v", err)
	}
}

// end signals the server and waits until none of its processes is left, so that it may start again.
func (s *Server) end(signal syscall.Signal) error {
	workers := children(s.process.Process.Pid)
	if err := s.process.Process.Signal(signal); err != nil {
		return err
	}
	if signal == syscall.SIGKILL {
		for _, pid := range workers {
			if p, err := os.FindProcess(pid); err == nil {
				p.Kill() // it may have gone by itself
			}
		}
	}
	s.process.Wait() // its exit code says only how it was ended
	s.process = nil
	s.output.Close()
	deadline := time.Now().Add(30 * time.Second)
	for _, pid := range workers {
		for !gone(pid) {
			if time.Now().After(deadline) {
				return fmt.Errorf("its process %d does not end", pid)
			}
			time.Sleep(5 * time.Millisecond)
		}
	}
	return nil
}

func (s *Server) remove() {
	if s.process != nil {
		s.end(syscall.SIGINT)
	}
	os.RemoveAll(s.folder)
}
