package tally

import (
	"os"
	"path/filepath"
	"slices"
	"testing"
)

// TestGoesOn: what was added is read back, of other code and of a line cut off nothing; a change of code changes the hash, of a test not.
func TestGoesOn(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "out", "state.jsonl")
	if got, err := Read[int](path, "a"); err != nil || len(got) != 0 {
		t.Fatal(got, err)
	}
	for _, hash := range []string{"a", "b"} {
		add, closed, err := Append[int](path, hash)
		if err != nil {
			t.Fatal(err)
		}
		for _, n := range []int{1, 2} {
			if err := add(n * len(hash)); err != nil {
				t.Fatal(err)
			}
		}
		if err := closed(); err != nil {
			t.Fatal(err)
		}
	}
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, b[:len(b)-3], 0o644); err != nil {
		t.Fatal(err)
	}
	for hash, want := range map[string][]int{"a": {1, 2}, "b": {1}, "c": nil} {
		if got, err := Read[int](path, hash); err != nil || !slices.Equal(got, want) {
			t.Errorf("%s: %v, %v, want %v", hash, got, err, want)
		}
	}
	var hashes []string
	for _, name := range []string{"x.go", "x_test.go", "y.go"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte("package x"), 0o644); err != nil {
			t.Fatal(err)
		}
		h, err := CodeHash(dir)
		if err != nil {
			t.Fatal(err)
		}
		hashes = append(hashes, h)
	}
	if hashes[0] != hashes[1] || hashes[1] == hashes[2] {
		t.Error(hashes)
	}
}
