package main

import (
	"bytes"
	"context"
	"flag"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"balk/cmd/internal/cli"
	"balk/cmd/internal/help"
)

var update = flag.Bool("update", false, "write what the program prints today into README.md and testdata/pictures; read the diff")

// root is the top of the repository.
func root(t *testing.T) string {
	t.Helper()
	dir, err := filepath.Abs(filepath.Join("..", ".."))
	if err != nil {
		t.Fatal(err)
	}
	return dir
}

// fresh is a copy of the repository without what it does not keep, as a clone of it has it.
func fresh(t *testing.T) string {
	t.Helper()
	from, dir := root(t), t.TempDir()
	err := filepath.WalkDir(from, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(from, path)
		switch {
		case err != nil:
			return err
		case rel == ".git" || rel == "out": // in a worktree .git is a file
			if d.IsDir() {
				return fs.SkipDir
			}
			return nil
		case d.IsDir():
			return os.MkdirAll(filepath.Join(dir, rel), 0o755)
		case !d.Type().IsRegular():
			return nil
		}
		text, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		info, err := d.Info()
		if err != nil {
			return err
		}
		return os.WriteFile(filepath.Join(dir, rel), text, info.Mode().Perm())
	})
	if err != nil {
		t.Fatal(err)
	}
	return dir
}

// allowed is what may stand on stderr where a command of README.md or of help runs on the demo: what is wrong with it on purpose, and
// what holds for any log of a trailed set.
var allowed = []*regexp.Regexp{
	regexp.MustCompile(`^balk: \S+, record 1: log gaps while working: 1 \(`), // the hole in the log
	regexp.MustCompile(`^balk: \S+, record 1: the drawbar's angle is not logged: taken as straight at the start of each unbroken part \(1\)`),
}

// noFalseAlarm looks at what a command said beside its result, and in a check's result, for what is not wrong with the demo.
func noFalseAlarm(t *testing.T, call, stdout, stderr string) {
	t.Helper()
	for line := range strings.Lines(stderr) {
		if !slices.ContainsFunc(allowed, func(r *regexp.Regexp) bool { return r.MatchString(line) }) {
			t.Errorf("%s: false alarm: %s", call, line)
		}
	}
	for _, alarm := range []string{"tighter than the set may turn", "cannot be"} {
		if strings.Contains(call, "balk check ") && strings.Contains(stdout, alarm) {
			t.Errorf("%s: false alarm: %q in\n%s", call, alarm, stdout)
		}
	}
}

// TestReadme runs every command of README.md as written, by the shell, in a fresh copy of the repository, in their order: none fails, and none
// raises a false alarm. The text and the pictures shown there are what comes out.
func TestReadme(t *testing.T) {
	if testing.Short() {
		t.Skip("builds and links the command as often as README.md calls it")
	}
	shell, err := exec.LookPath("sh")
	if err != nil {
		t.Skip("no shell")
	}
	dir := fresh(t)
	text, err := os.ReadFile(filepath.Join(dir, "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	if n := bytes.Count(text, []byte("\n")); n > 160 {
		t.Errorf("README.md has %d lines: must be 160 at the most, the rest belongs into cmd/internal/help", n)
	}
	shown := ""
	calls := commands(string(text), "sh")
	for i, call := range calls {
		var stdout, stderr bytes.Buffer
		c := exec.Command(shell, "-c", call)
		c.Dir, c.Stdout, c.Stderr = dir, &stdout, &stderr
		c.Env = append(os.Environ(), "GOFLAGS=-trimpath") // built before, wherever the copy lies
		if err := c.Run(); err != nil {
			t.Fatalf("%s: %v\n%s", call, err, stderr.String())
		}
		noFalseAlarm(t, call, stdout.String(), stderr.String())
		if i == 1 { // the check of Pond Piece
			shown = stdout.String()
			asKept(t, stdout.Bytes(), filepath.Join(root(t), "testdata", "pictures", "pond-piece.txt"))
		}
	}
	if len(calls) < 6 {
		t.Errorf("%d commands in README.md: the test does not see them", len(calls))
	}
	for drawn, shown := range map[string]string{"pond/map.svg": "pond-piece.svg", "turns/turn-1-bulb.svg": "turn-bulb.svg", "turns/row-ends.svg": "row-ends.svg", "plans/plans.svg": "plans.svg"} {
		now, err := os.ReadFile(filepath.Join(dir, "out", filepath.FromSlash(drawn)))
		if err != nil {
			t.Fatal(err)
		}
		asKept(t, now, filepath.Join(root(t), "testdata", "pictures", shown))
		if !bytes.Contains(text, []byte("(testdata/pictures/"+shown+")")) {
			t.Errorf("README.md does not show %s", shown)
		}
	}
	const open, end = "<!-- output -->\n```text\n", "```\n<!-- end of output -->"
	head, rest, ok := strings.Cut(string(text), open)
	kept, tail, ok2 := strings.Cut(rest, end)
	if !ok || !ok2 {
		t.Fatalf("README.md lacks the marks %q and %q", open, end)
	}
	if *update {
		if err := os.WriteFile(filepath.Join(root(t), "README.md"), []byte(head+open+shown+end+tail), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if kept != shown {
		t.Errorf("README.md shows\n%s\nthe program prints\n%s\n(go test ./cmd/balk -update renews it)", kept, shown)
	}
}

// asKept holds what the program prints or draws to the file that keeps it.
func asKept(t *testing.T, now []byte, path string) {
	t.Helper()
	if *update {
		if err := os.WriteFile(path, now, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	kept, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(kept, now) {
		t.Errorf("%s is not what comes out now (go test ./cmd/balk -update renews it):\n%.4000s", path, now)
	}
}

// TestHelpCommandsRun runs every command that the pages of help show, one after the other, on the demo that they begin with: none fails, and
// none raises a false alarm.
func TestHelpCommandsRun(t *testing.T) {
	t.Chdir(t.TempDir())
	ran := map[string]bool{}
	for _, page := range append([]string{"demo", "balk", "check", "turn", "compare", "handover", "spots", "sweeps"}, help.Topics...) {
		_, text := help.Page(page)
		for _, call := range commands(text, "") {
			args := words(call)
			if args[0] != "balk" {
				t.Fatalf("help %s: %q is no command of balk", page, call)
			}
			var stdout, stderr bytes.Buffer
			if code := cli.Run(context.Background(), args[1:], nil, &stdout, &stderr); code != 0 {
				t.Errorf("%s: exit code %d\n%s", call, code, stderr.String())
			}
			noFalseAlarm(t, call, stdout.String(), stderr.String())
			ran[args[1]] = true
		}
	}
	for _, verb := range []string{"demo", "check", "turn", "compare", "handover", "spots", "sweeps"} {
		if !ran[verb] {
			t.Errorf("help shows no call of balk %s: the test does not see it", verb)
		}
	}
}

// commands are the calls in the fenced blocks of a language, those joined by && one by one.
func commands(text, language string) []string {
	var calls []string
	for i, part := range strings.Split(text, "```") {
		of, block, _ := strings.Cut(part, "\n")
		if i%2 == 0 || of != language {
			continue
		}
		for line := range strings.Lines(block) {
			calls = append(calls, strings.TrimSuffix(strings.TrimSuffix(line, "\n"), " && \\"))
		}
	}
	return calls
}

// words splits a call as a shell does, as far as help needs it: at spaces outside double quotes.
func words(call string) []string {
	var out []string
	for i, part := range strings.Split(call, `"`) {
		if i%2 == 1 {
			out = append(out, part)
		} else {
			out = append(out, strings.Fields(part)...)
		}
	}
	return out
}

func TestCommandsAreFound(t *testing.T) {
	text := "text\n```sh\ngo run ./cmd/balk demo a && \\\ngo run ./cmd/balk check a b\n```\nbalk no\n```toml\nbalk no\n```\n```\nbalk turn --driver \"N. N.\" x\n```\n"
	if got, want := commands(text, "sh"), []string{"go run ./cmd/balk demo a", "go run ./cmd/balk check a b"}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	got := commands(text, "")
	if want := []string{`balk turn --driver "N. N." x`}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	if got, want := words(got[0]), []string{"balk", "turn", "--driver", "N. N.", "x"}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}
