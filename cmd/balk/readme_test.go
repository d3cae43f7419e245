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
	readme, picture := filepath.Join(root, "README.md"), filepath.Join(root, "testdata", "pictures", "pond-piece.svg")
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
	drawn, err := os.ReadFile(filepath.Join("out", "pond", "map.svg"))
	if err != nil {
		t.Fatal(err)
	}
	const open, end = "<!-- output -->\n```text\n", "```\n<!-- end of output -->"
	head, rest, ok := strings.Cut(string(text), open)
	shown, tail, ok2 := strings.Cut(rest, end)
	if !ok || !ok2 {
		t.Fatalf("README.md lacks the marks %q and %q", open, end)
	}
	if *update {
		if err := os.WriteFile(readme, []byte(head+open+stdout.String()+end+tail), 0o644); err != nil {
			t.Fatal(err)
		}
		if err := os.MkdirAll(filepath.Dir(picture), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(picture, drawn, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if shown != stdout.String() {
		t.Errorf("README.md shows\n%s\nthe program prints\n%s\n(go test ./cmd/balk -update renews it)", shown, stdout.String())
	}
	kept, err := os.ReadFile(picture)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(kept, drawn) {
		t.Errorf("%s is not what the program draws (go test ./cmd/balk -update renews it)", picture)
	}
}
