package main

import (
	"bytes"
	"context"
	"flag"
	"os"
	"path/filepath"
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
	const command = "go run ./cmd/balk demo out/farm && \\\ngo run ./cmd/balk check out/farm/fields.geojson out/farm/track-pond.geojson --field 1 --width 5 --overlap 0.10 --rounds 2 --out out/pond"
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
