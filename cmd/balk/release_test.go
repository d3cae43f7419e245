package main

import (
	"bytes"
	"debug/buildinfo"
	"debug/elf"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

// TestRelease builds what is handed out for this machine twice, from clones at two places, as two people with other clocks and habits would: it is the
// same to the byte, the binary runs by itself and knows its commit, and the Debian package installs.
func TestRelease(t *testing.T) {
	if os.Getenv("BALK_RELEASE") == "" {
		t.Skip("BALK_RELEASE is not set: .ci/run sets it")
	}
	if runtime.GOOS != "linux" {
		t.Skip("what is handed out is built on Linux")
	}
	first, commit := released(t, "TZ=Pacific/Auckland")
	second, again := released(t, "TZ=America/Lima")
	if again != commit {
		t.Fatalf("commits %s and %s of one tree", commit, again)
	}
	sums := inFolder(t, first)
	for name, text := range inFolder(t, second) {
		if sums[name] != text {
			t.Errorf("%s differs between two builds of one commit", name)
		}
	}
	if len(sums) != 3 {
		t.Fatalf("%d files in %s, want a packed folder, a Debian package and their sums", len(sums), first)
	}
	within(t, first, "sha256sum", "--check", "--strict", "SHA256SUMS")

	unpacked := t.TempDir()
	packed, err := filepath.Glob(filepath.Join(first, "*.tar.gz"))
	if err != nil || len(packed) != 1 {
		t.Fatal(packed, err)
	}
	within(t, unpacked, "tar", "-xzf", packed[0], "--strip-components=1")
	looksAfterItself(t, filepath.Join(unpacked, "balk"), commit)
	notices, err := os.ReadFile(filepath.Join(unpacked, "NOTICES"))
	if err != nil {
		t.Fatal(err)
	}
	built, err := buildinfo.ReadFile(filepath.Join(unpacked, "balk"))
	if err != nil || len(built.Deps) < 5 {
		t.Fatalf("%v, %v", built, err)
	}
	for _, m := range built.Deps {
		if !bytes.Contains(notices, []byte("== "+m.Path+" "+m.Version+"\n")) {
			t.Errorf("NOTICES lacks %s", m.Path)
		}
	}
	for _, name := range []string{"LICENSE", "README.md", "CHANGES.md", "man/balk-check.1", "man/balk-states.7", "completions/balk.bash", "completions/balk.powershell"} {
		if st, err := os.Stat(filepath.Join(unpacked, name)); err != nil || st.Size() < 300 {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := exec.LookPath("man"); err == nil {
		pages, err := filepath.Glob(filepath.Join(unpacked, "man", "*"))
		if err != nil || len(pages) < 10 {
			t.Fatalf("%d man pages (%v)", len(pages), err)
		}
		for _, page := range pages {
			if said := within(t, unpacked, "man", "--warnings", "-Tutf8", "-l", page); strings.Contains(said, "warning:") {
				t.Errorf("%s: %s", page, said)
			}
		}
	}

	if _, err := exec.LookPath("dpkg"); err != nil || os.Geteuid() != 0 {
		t.Log("no dpkg, or not the superuser: the Debian package is not installed")
		return
	}
	debs, err := filepath.Glob(filepath.Join(first, "*.deb"))
	if err != nil || len(debs) != 1 {
		t.Fatal(debs, err)
	}
	system := t.TempDir()
	for _, dir := range []string{"updates", "info"} {
		if err := os.MkdirAll(filepath.Join(system, "var/lib/dpkg", dir), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(filepath.Join(system, "var/lib/dpkg/status"), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	within(t, system, "dpkg", "--root="+system, "--install", debs[0])
	looksAfterItself(t, filepath.Join(system, "usr/bin/balk"), commit)
	for _, name := range []string{"usr/share/man/man1/balk-check.1.gz", "usr/share/man/man7/balk-states.7.gz", "usr/share/bash-completion/completions/balk", "usr/share/doc/balk/copyright", "usr/share/doc/balk/NOTICES"} {
		if _, err := os.Stat(filepath.Join(system, name)); err != nil {
			t.Error(err)
		}
	}
}

// released builds a release of this machine's kind from a clone of its own, and names its folder and the commit.
func released(t *testing.T, zone string) (out, commit string) {
	t.Helper()
	dir := fresh(t)
	for _, args := range [][]string{{"init", "-q"}, {"add", "-A"}, {"-c", "user.name=x", "-c", "user.email=x", "commit", "-q", "-m", "x"}} {
		within(t, dir, "git", args...)
	}
	commit = strings.TrimSpace(within(t, dir, "git", "rev-parse", "--short=12", "HEAD"))
	c := exec.Command(filepath.Join(dir, ".ci", "release"), runtime.GOOS+"/"+runtime.GOARCH)
	c.Env = append(os.Environ(), zone, "GOFLAGS=")
	if text, err := c.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	return filepath.Join(dir, "out", "release"), commit
}

// within runs a program in a folder and gives what it said. All commits are of one time.
func within(t *testing.T, dir, program string, args ...string) string {
	t.Helper()
	c := exec.Command(program, args...)
	c.Dir = dir
	c.Env = append(os.Environ(), "GIT_AUTHOR_DATE=2026-04-14T06:30:00Z", "GIT_COMMITTER_DATE=2026-04-14T06:30:00Z")
	text, err := c.CombinedOutput()
	if err != nil {
		t.Fatalf("%s %q: %v\n%s", program, args, err, text)
	}
	return string(text)
}

// looksAfterItself holds a binary to what is promised of it: no library of the system is wanted, no symbols are left, it knows its commit, and it works.
func looksAfterItself(t *testing.T, path, commit string) {
	t.Helper()
	f, err := elf.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for _, p := range f.Progs {
		if p.Type == elf.PT_INTERP {
			t.Errorf("%s wants a loader", path)
		}
	}
	if f.Section(".symtab") != nil || f.Section(".debug_info") != nil {
		t.Errorf("%s is not stripped", path)
	}
	if got, want := within(t, t.TempDir(), path, "--version"), "balk commit "+commit+" of 2026-04-14\n"; got != want {
		t.Errorf("--version says %q, want %q", got, want)
	}
	dir := t.TempDir()
	within(t, dir, path, "demo", "farm")
	if said := within(t, dir, path, "check", "farm/fields.geojson", "farm/track-ribbon.geojson", "--implement", "farm/sweep-mounted.toml", "--rounds", "3"); !strings.Contains(said, "Long Ribbon") {
		t.Errorf("check says\n%s", said)
	}
}
