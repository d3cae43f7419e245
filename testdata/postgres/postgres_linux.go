// Package postgres starts a PostgreSQL of Debian's for tests, in a folder of its own, and ends it.
//
// It listens on a socket in that folder only. Who runs the tests as root, which PostgreSQL refuses, has it run as Debian's user postgres.
package postgres

import (
	"context"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"slices"
	"strconv"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"balk/testdata/check"

	"github.com/jackc/pgx/v5"
)

// Server is a running PostgreSQL.
type Server struct {
	dir  string
	bin  string
	as   *syscall.Credential
	run  *exec.Cmd
	ends chan error
	last atomic.Int64
}

// Shared is the one server of a test binary: it starts when a test first wants a database. The zero value is ready.
type Shared struct {
	once    sync.Once
	server  *Server
	missing string
	err     error
}

// Server is the one server; a test is skipped that wants it where there is none on this machine.
func (s *Shared) Server(t testing.TB) *Server {
	t.Helper()
	s.once.Do(func() { s.server, s.missing, s.err = Start() })
	if s.missing != "" {
		check.Skip(t, s.missing)
	}
	if s.err != nil {
		t.Fatal(s.err)
	}
	return s.server
}

// Database is the URL of a fresh one. Bare: without PostGIS.
func (s *Shared) Database(t testing.TB, bare bool) string {
	t.Helper()
	url, err := s.Server(t).New(bare)
	if err != nil {
		t.Fatal(err)
	}
	return url
}

// Run runs the tests, ends the server where one was started, and gives their exit code: what TestMain does.
func (s *Shared) Run(m *testing.M) int {
	code := m.Run()
	if s.server != nil {
		if err := s.server.Stop(); err != nil {
			fmt.Fprintln(os.Stderr, err)
			code = 1
		}
	}
	return code
}

// owner is who owns the databases.
const owner = "balk"

// template is the database that all others begin as.
const template = "template_of_tests"

// Start starts one with PostGIS. missing: why there is none on this machine, which is no fault; "" = it runs.
func Start() (s *Server, missing string, err error) {
	found, err := filepath.Glob("/usr/lib/postgresql/*/bin/initdb")
	if err != nil || len(found) == 0 {
		return nil, "PostgreSQL is not installed", err
	}
	slices.Sort(found)
	s = &Server{bin: filepath.Dir(found[len(found)-1])}
	version := filepath.Base(filepath.Dir(s.bin))
	if _, err := os.Stat(filepath.Join("/usr/share/postgresql", version, "extension", "postgis.control")); err != nil {
		return nil, "PostGIS is not installed", nil
	}
	if s.dir, err = os.MkdirTemp("", "pg"); err != nil { // short: a socket's path has at most 107 bytes
		return nil, "", err
	}
	if os.Geteuid() == 0 {
		who, err := user.Lookup("postgres")
		if err != nil {
			return nil, "", err
		}
		uid, err1 := strconv.ParseUint(who.Uid, 10, 32)
		gid, err2 := strconv.ParseUint(who.Gid, 10, 32)
		if err1 != nil || err2 != nil {
			return nil, "", fmt.Errorf("user %v: %v, %v", who, err1, err2)
		}
		s.as = &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}
		if err := os.Chown(s.dir, int(uid), int(gid)); err != nil {
			return nil, "", err
		}
	}
	if out, err := s.command("initdb", "-D", s.data(), "-U", owner, "-A", "trust", "-E", "UTF8", "--locale=C", "--no-sync").CombinedOutput(); err != nil {
		return nil, "", fmt.Errorf("initdb: %w\n%s", err, out)
	}
	if err := s.up(); err != nil {
		return nil, "", err
	}
	if err = s.do("postgres", "CREATE DATABASE "+template); err == nil {
		err = s.do(template, "CREATE EXTENSION postgis")
	}
	return s, "", err
}

func (s *Server) data() string { return filepath.Join(s.dir, "data") }

func (s *Server) command(name string, args ...string) *exec.Cmd {
	c := exec.Command(filepath.Join(s.bin, name), args...)
	c.Dir = s.dir
	c.SysProcAttr = &syscall.SysProcAttr{Credential: s.as, Setpgid: true}
	return c
}

// up starts the server and waits until it answers.
func (s *Server) up() error {
	log, err := os.OpenFile(filepath.Join(s.dir, "log"), os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o644)
	if err != nil {
		return err
	}
	defer log.Close()
	// fsync is for a machine that loses its power, which no test does.
	s.run = s.command("postgres", "-D", s.data(), "-k", s.dir, "-c", "listen_addresses=", "-c", "fsync=off", "-c", "max_connections=200", "-c", "shared_buffers=64MB")
	s.run.Stdout, s.run.Stderr = log, log
	if err := s.run.Start(); err != nil {
		return err
	}
	ends := make(chan error, 1)
	run := s.run
	go func() { ends <- run.Wait() }()
	s.ends = ends
	for until := time.Now().Add(time.Minute); ; time.Sleep(50 * time.Millisecond) {
		err := s.do("postgres", "SELECT 1")
		if err == nil {
			return nil
		}
		if time.Now().After(until) {
			text, _ := os.ReadFile(filepath.Join(s.dir, "log"))
			return fmt.Errorf("PostgreSQL does not answer: %w\n%s", err, text)
		}
	}
}

// URL is that of a database.
func (s *Server) URL(database string) string {
	return "postgres:///" + database + "?" + url.Values{"host": {s.dir}, "user": {owner}}.Encode()
}

// do runs statements in a database.
func (s *Server) do(database, sql string) error {
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	c, err := pgx.Connect(ctx, s.URL(database))
	if err != nil {
		return err
	}
	_, err = c.Exec(ctx, sql)
	if closed := c.Close(ctx); err == nil {
		err = closed
	}
	return err
}

// New makes a database with PostGIS and gives its URL. Bare: without PostGIS.
func (s *Server) New(bare bool) (string, error) {
	from := template
	if bare {
		from = "template0"
	}
	name := fmt.Sprintf("test%d", s.last.Add(1))
	return s.URL(name), s.do("postgres", "CREATE DATABASE "+name+" TEMPLATE "+from)
}

// Restart ends the server at once, as a fault does, and starts it again after a while.
func (s *Server) Restart(after time.Duration) error {
	if err := s.run.Process.Signal(syscall.SIGQUIT); err != nil {
		return err
	}
	<-s.ends
	time.Sleep(after)
	return s.up()
}

// Stop ends the server and removes its folder.
func (s *Server) Stop() error {
	err := s.run.Process.Signal(syscall.SIGINT)
	select {
	case <-s.ends:
	case <-time.After(10 * time.Second):
		err = s.run.Process.Kill()
	}
	if gone := os.RemoveAll(s.dir); err == nil {
		err = gone
	}
	return err
}
