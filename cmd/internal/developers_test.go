package internal

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// What DEVELOPERS.md names as `room.Thing` is there, and every room has its line in the table.
func TestDevelopersNamesWhatIsThere(t *testing.T) {
	root := filepath.Join("..", "..")
	text, err := os.ReadFile(filepath.Join(root, "DEVELOPERS.md"))
	if err != nil {
		t.Fatal(err)
	}
	room := map[string]string{}
	for dir := range arrows {
		room[path.Base(dir)] = dir
		if !strings.HasPrefix(dir, ".ci/") && !strings.Contains(string(text), "`"+dir+"`") {
			t.Errorf("DEVELOPERS.md has no line for the room %s", dir)
		}
	}
	seen := 0
	for _, name := range regexp.MustCompile("`([a-z]+)\\.([A-Z][A-Za-z]*)").FindAllStringSubmatch(string(text), -1) {
		dir, is := room[name[1]]
		if !is {
			continue // of another library
		}
		seen++
		if !declared(t, filepath.Join(root, filepath.FromSlash(dir)), name[2]) {
			t.Errorf("DEVELOPERS.md names %s.%s, which %s has not", name[1], name[2], dir)
		}
	}
	if seen < 20 {
		t.Errorf("%d names found: the test does not see them", seen)
	}
}

// declared says whether a folder declares a name at the top of a file.
func declared(t *testing.T, dir, name string) bool {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(dir, "*.go"))
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range files {
		f, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range f.Decls {
			switch d := d.(type) {
			case *ast.FuncDecl:
				if d.Recv == nil && d.Name.Name == name {
					return true
				}
			case *ast.GenDecl:
				for _, s := range d.Specs {
					switch s := s.(type) {
					case *ast.TypeSpec:
						if s.Name.Name == name {
							return true
						}
					case *ast.ValueSpec:
						for _, n := range s.Names {
							if n.Name == name {
								return true
							}
						}
					}
				}
			}
		}
	}
	return false
}
