package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"balk/cmd/internal/demo"
)

// TestProgram compiles and runs the program that shows how a field is checked with the packages: what it says of Pond Piece is what
// README.md shows of the command.
func TestProgram(t *testing.T) {
	dir := t.TempDir()
	program := filepath.Join(dir, "program.exe")
	within(t, root(t), "go", "build", "-o", program, "./testdata/program")
	farm := filepath.Join(dir, "farm")
	if _, err := demo.Write(t.Context(), farm, 1, func(string) {}); err != nil {
		t.Fatal(err)
	}
	c := exec.Command(program, filepath.Join(farm, "fields.geojson"), filepath.Join(farm, "track-pond.geojson"))
	c.Dir = dir
	var said, findings strings.Builder
	c.Stdout, c.Stderr = &said, &findings
	if err := c.Run(); err != nil {
		t.Fatalf("%v\n%s", err, findings.String())
	}
	for _, want := range []string{"Pond Piece (invented): 4.70 ha, missed 0.86 %, worked twice or more 6.33 %\n", "  strip 1: 52 m², certain, lifted early or lowered late\n"} {
		if !strings.Contains(said.String(), want) {
			t.Errorf("it does not say %q:\n%s", want, said.String())
		}
	}
	if missed, err := os.ReadFile(filepath.Join(dir, "missed.geojson")); err != nil || !strings.Contains(string(missed), `"strip":1,`) {
		t.Errorf("missed.geojson: %v, %.200s", err, missed)
	}
	if text, err := exec.Command(program, "nowhere.geojson", "nowhere.csv").CombinedOutput(); err == nil || !strings.Contains(string(text), "nowhere.geojson") {
		t.Errorf("without files: %v, %s", err, text)
	}
}
