package main

import (
	"bytes"
	"context"
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"balk/cmd/internal/cli"
)

var update = flag.Bool("update", false, "write what the program prints today into README.md and testdata/pictures; read the diff")

// TestReadmeShowsWhatTheProgramPrints runs the README's main command and holds
// the text and the picture shown there to what comes out.
func TestReadmeShowsWhatTheProgramPrints(t *testing.T) {
	root, err := filepath.Abs(filepath.Join("..", ".."))
	if err != nil {
		t.Fatal(err)
	}
	readme := filepath.Join(root, "README.md")
	text, err := os.ReadFile(readme)
	if err != nil {
		t.Fatal(err)
	}
	const command = "go run ./cmd/balk demo out/farm && \\\ngo run ./cmd/balk check out/farm/fields.geojson out/farm/track-pond.geojson --implement out/farm/sweep-mounted.toml --rounds 3 --out out/pond"
	if !bytes.Contains(text, []byte(command)) {
		t.Fatalf("README.md does not show the command\n%s", command)
	}
	t.Chdir(t.TempDir())
	var stdout, stderr bytes.Buffer
	for call := range strings.SplitSeq(command, " && \\\n") {
		stdout.Reset()
		args := strings.Fields(strings.TrimPrefix(call, "go run ./cmd/balk "))
		if code := cli.Run(context.Background(), args, nil, &stdout, &stderr); code != 0 {
			t.Fatalf("%s: exit code %d\n%s", call, code, stderr.String())
		}
	}
	printed := stdout.String()
	const turning = "balk turn out/farm/fields.geojson --field 1 --implement out/farm/sweep-trailed.toml --headland 20 --bearing 178 --out out/turns"
	if !bytes.Contains(text, []byte(turning)) {
		t.Fatalf("README.md does not show the command\n%s", turning)
	}
	if code := cli.Run(context.Background(), strings.Fields(turning)[1:], nil, &stdout, &stderr); code != 0 {
		t.Fatalf("%s: exit code %d\n%s", turning, code, stderr.String())
	}
	const comparing = "balk compare out/farm/fields.geojson --field 1 --implement out/farm/sweep-mounted.toml --implement out/farm/sweep-trailed.toml --speed 8 --out out/plans"
	if !bytes.Contains(text, []byte(comparing)) {
		t.Fatalf("README.md does not show the command\n%s", comparing)
	}
	if code := cli.Run(context.Background(), strings.Fields(comparing)[1:], nil, &stdout, &stderr); code != 0 {
		t.Fatalf("%s: exit code %d\n%s", comparing, code, stderr.String())
	}
	for drawn, shown := range map[string]string{"pond/map.svg": "pond-piece.svg", "turns/turn-1-bulb.svg": "turn-bulb.svg", "turns/row-ends.svg": "row-ends.svg", "plans/plans.svg": "plans.svg"} {
		samePicture(t, filepath.Join("out", filepath.FromSlash(drawn)), filepath.Join(root, "testdata", "pictures", shown))
	}
	const open, end = "<!-- output -->\n```text\n", "```\n<!-- end of output -->"
	head, rest, ok := strings.Cut(string(text), open)
	shown, tail, ok2 := strings.Cut(rest, end)
	if !ok || !ok2 {
		t.Fatalf("README.md lacks the marks %q and %q", open, end)
	}
	if *update {
		if err := os.WriteFile(readme, []byte(head+open+printed+end+tail), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if shown != printed {
		t.Errorf("README.md shows\n%s\nthe program prints\n%s\n(go test ./cmd/balk -update renews it)", shown, printed)
	}
}

// samePicture holds a picture shown in the README to what the program draws.
func samePicture(t *testing.T, drawn, shown string) {
	t.Helper()
	now, err := os.ReadFile(drawn)
	if err != nil {
		t.Fatal(err)
	}
	if *update {
		if err := os.WriteFile(shown, now, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	kept, err := os.ReadFile(shown)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(kept, now) {
		t.Errorf("%s is not what the program draws (go test ./cmd/balk -update renews it)", shown)
	}
}

// allowed is what may stand on stderr where a command of the README runs on the demo: what is wrong with it on purpose, and what
// holds for any log of a trailed set.
var allowed = []*regexp.Regexp{
	regexp.MustCompile(`^balk: \S+, record 1: log gaps while working: 1 \(`), // the hole in the log
	regexp.MustCompile(`^balk: \S+, record 1: the drawbar's angle is not logged: taken as straight at the start of 1 unbroken parts`),
}

// TestReadmeCommandsRun runs every command in the README's shell blocks, in their order and as written, on
// the demo: none fails, and none raises a false alarm. Lines with FIELD in them say how a command is called and are no
// commands.
func TestReadmeCommandsRun(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(t.TempDir())
	ran := 0
	for _, call := range readmeCommands(string(text)) {
		args := words(call)
		var stdout, stderr bytes.Buffer
		if code := cli.Run(context.Background(), args, nil, &stdout, &stderr); code != 0 {
			t.Errorf("balk %s: exit code %d\n%s", call, code, stderr.String())
		}
		ran++
		for line := range strings.Lines(stderr.String()) {
			if !slices.ContainsFunc(allowed, func(r *regexp.Regexp) bool { return r.MatchString(line) }) {
				t.Errorf("balk %s: false alarm: %s", call, line)
			}
		}
		for _, alarm := range []string{"tighter than the set may turn", "cannot be"} {
			if args[0] == "check" && strings.Contains(stdout.String(), alarm) {
				t.Errorf("balk %s: false alarm: %q in\n%s", call, alarm, stdout.String())
			}
		}
	}
	if ran < 8 {
		t.Errorf("%d commands in README.md: the test does not see them", ran)
	}
}

// readmeCommands are the calls of balk in fenced blocks without a language or for a shell, without the program's name.
func readmeCommands(text string) []string {
	var calls []string
	inside, shell := false, false
	for line := range strings.Lines(text) {
		line = strings.TrimSpace(line)
		if language, fence := strings.CutPrefix(line, "```"); fence {
			inside, shell = !inside, language == "" || language == "sh"
			continue
		}
		line, direct := strings.CutPrefix(strings.TrimSuffix(line, " && \\"), "go run ./cmd/balk ")
		if !direct {
			line, direct = strings.CutPrefix(line, "balk ")
		}
		if inside && shell && direct && !strings.Contains(line, "FIELD") {
			calls = append(calls, line)
		}
	}
	return calls
}

// words splits a call as a shell does, as far as the README needs it: at spaces outside double quotes.
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

func TestReadmeCommandsAreFound(t *testing.T) {
	text := "text\n```sh\ngo run ./cmd/balk demo a && \\\ngo run ./cmd/balk check a b\n```\nbalk no\n```toml\nbalk no\n```\n  ```\n  balk turn --driver \"N. N.\" x\nbalk check FIELD\n  ```\n"
	got := readmeCommands(text)
	if want := []string{"demo a", "check a b", `turn --driver "N. N." x`}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	if got, want := words(got[2]), []string{"turn", "--driver", "N. N.", "x"}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}
