package internal

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// mayOpen are the files of the rooms that read what the user names which may open a file by themselves.
// All others open it by read.Files, which keeps it from being written over.
var mayOpen = map[string]string{
	"geo/read/files.go":            "read.Files itself",
	"geo/read/geopackage_table.go": "opened before, to tell its format",
}

// TestFilesAreOpenedByOneDoor looks for whatever opens a file past read.Files.
func TestFilesAreOpenedByOneDoor(t *testing.T) {
	root := filepath.Join("..", "..")
	found := map[string]bool{}
	for _, room := range []string{"geo/read", "cmd/internal/job", "cmd/internal/cli"} {
		paths, err := filepath.Glob(filepath.Join(root, filepath.FromSlash(room), "*.go"))
		if err != nil || len(paths) == 0 {
			t.Fatalf("%s: %d files (%v)", room, len(paths), err)
		}
		for _, path := range paths {
			if strings.HasSuffix(path, "_test.go") {
				continue
			}
			set := token.NewFileSet()
			f, err := parser.ParseFile(set, path, nil, 0)
			if err != nil {
				t.Fatal(err)
			}
			name := room + "/" + filepath.Base(path)
			ast.Inspect(f, func(n ast.Node) bool {
				call, ok := n.(*ast.SelectorExpr)
				if !ok {
					return true
				}
				of, ok := call.X.(*ast.Ident)
				if !ok || of.Name != "os" || !slices.Contains([]string{"Open", "OpenFile", "OpenRoot", "OpenInRoot", "ReadFile", "DirFS", "CopyFS"}, call.Sel.Name) {
					return true
				}
				found[name] = true
				if mayOpen[name] == "" {
					t.Errorf("%s: os.%s past read.Files", set.Position(n.Pos()), call.Sel.Name)
				}
				return true
			})
		}
	}
	for name := range mayOpen {
		if !found[name] {
			t.Errorf("%s opens no file any more: take it off the list", name)
		}
	}
}
