package cli

import (
	"bytes"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

// balk batch is done by the second program: what that says and how it ends is what balk says and how it ends.
func TestTheSecondProgramIsStarted(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("a shell stands for the second program")
	}
	dir := t.TempDir()
	args := []string{"batch", "logs", "--fields", "f.geojson", "--width", "6", "--out", "x"}
	run := func() (int, string, string) {
		var out, said bytes.Buffer
		code := Run(t.Context(), args, strings.NewReader("in"), &out, &said)
		return code, out.String(), said.String()
	}
	t.Setenv("PATH", dir)
	if code, _, said := run(); code != couldNot || !strings.Contains(said, "there is no such program beside balk or in the path") {
		t.Errorf("none there: code %d, %q", code, said)
	}
	stub := func(text string) {
		if err := os.WriteFile(filepath.Join(dir, manyName), []byte("#!/bin/sh\n"+text), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	stub(`echo '{"say":"a remark"}' >&2; echo '{"error":"it went wrong"}' >&2; exit 1` + "\n")
	if code, _, said := run(); code != couldNot || said != "balk: a remark\nbalk: it went wrong\n" {
		t.Errorf("a fault: code %d, %q", code, said)
	}
	stub(`echo '{"error":"a wrong call"}' >&2; exit 2` + "\n")
	if code, _, said := run(); code != wrongCall || !strings.Contains(said, "a wrong call") {
		t.Errorf("a wrong call there: code %d, %q", code, said)
	}
	stub("echo 'panic: fell' >&2; exit 2\n")
	if code, _, said := run(); code != couldNot || !strings.Contains(said, "panic: fell") {
		t.Errorf("it fell: code %d, %q", code, said)
	}
	stub("echo '{\"logs\":3}'\n")
	if code, out, said := run(); code != done || !strings.Contains(out, "3 logs with driving on fields") {
		t.Errorf("code %d, %q, %q", code, out, said)
	}
	args = append(args, "--workers", "-1")
	if code, _, said := run(); code != wrongCall || !strings.Contains(said, "--workers -1: must be 0 or more") {
		t.Errorf("a wrong call: code %d, %q", code, said)
	}
}
