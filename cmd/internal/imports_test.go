package internal

import (
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// arrows is the floor plan: each room and the rooms it may import. A new arrow
// is a decision: change the table and say why in the commit.
var arrows = map[string][]string{
	"geo/workers":        {},
	"geo/plane":          {"geo/workers"},
	"geo/crs":            {},
	"geo":                {"geo/plane", "geo/crs"},
	"geo/read":           {"geo", "geo/crs", "geo/plane"},
	"coverage/rig":       {"geo", "geo/plane"},
	"coverage/sweeps":    {"geo/plane", "coverage/rig"},
	"coverage/turn":      {"geo", "geo/plane", "coverage/rig"},
	"coverage/motion":    {"geo/plane"},
	"coverage/drive":     {"geo", "geo/plane", "coverage/motion", "coverage/rig", "geo/workers"},
	"coverage/slope":     {"geo", "geo/plane", "coverage/chance", "coverage/drive"},
	"coverage/ground":    {"geo/plane", "coverage/drive", "geo/workers"},
	"coverage/chance":    {},
	"coverage/pattern":   {"coverage/chance"}, // knows no fields or logs
	"coverage":           {"geo", "geo/plane", "coverage/chance", "coverage/drive", "coverage/ground", "coverage/pattern", "coverage/rig", "coverage/slope", "coverage/sweeps", "geo/workers"},
	"coverage/drying":    {"geo"},
	"coverage/season":    {"geo", "geo/plane", "coverage", "coverage/drive", "coverage/ground"},
	"coverage/spots":     {"geo", "geo/plane", "coverage", "coverage/chance", "coverage/drive", "coverage/slope"},
	"coverage/plan":      {"geo", "geo/plane", "coverage", "coverage/drive", "coverage/ground", "coverage/rig", "coverage/slope", "coverage/sweeps", "coverage/turn", "geo/workers"},
	"coverage/rework":    {"geo", "geo/plane", "coverage", "coverage/drive", "coverage/ground", "coverage/rig", "coverage/turn", "geo/workers"},
	"export/vector":      {"coverage", "coverage/drive", "coverage/season", "geo", "geo/plane"},
	"export/figures":     {"coverage", "coverage/ground"},
	"export/words":       {"geo"},
	"export/answer":      {"coverage", "coverage/drive", "coverage/pattern", "coverage/plan", "coverage/season", "coverage/spots", "coverage/turn", "export/words"},
	"export/sheet/paper": {"geo"},
	"export/sheet":       {"export/answer", "export/sheet/paper", "export/figures", "export/words", "coverage", "coverage/drive", "coverage/ground", "coverage/rig", "coverage/turn", "coverage/plan", "coverage/rework", "coverage/season", "coverage/spots", "coverage/sweeps", "geo", "geo/plane"},
	"export/record":      {"coverage", "export/answer", "export/figures", "export/words", "geo"},
	"cmd/internal/demo":  {"cmd/internal/folder", "geo", "geo/plane", "coverage/rig", "coverage/plan", "export/vector"},
	"cmd/internal/farm":  {"coverage/season", "export/vector", "geo"},
	"cmd/internal/job":   {"cmd/internal/farm", "coverage/season", "cmd/internal/folder", "geo", "geo/plane", "geo/workers", "geo/read", "coverage", "coverage/drive", "coverage/drying", "coverage/ground", "coverage/pattern", "coverage/rig", "coverage/turn", "coverage/plan", "coverage/rework", "coverage/spots", "coverage/sweeps", "export/answer", "export/vector", "export/sheet", "export/sheet/paper", "export/record", "export/words"},
	"cmd/internal/batch": {"cmd/internal/farm", "cmd/internal/folder", "cmd/internal/job", "coverage", "coverage/drive", "export/vector", "geo", "geo/read"},
	"cmd/internal/crew":  {"cmd/internal/batch", "cmd/internal/job"},
	"cmd/internal/queue": {"cmd/internal/batch", "cmd/internal/crew", "cmd/internal/job", "geo/workers"},
	"cmd/internal/web":   {"cmd/internal/farm", "cmd/internal/folder", "cmd/internal/job", "coverage", "coverage/drive", "coverage/ground", "coverage/rig", "export/answer", "export/sheet", "export/vector", "export/words", "geo", "geo/plane", "geo/read"},
	"cmd/internal/cli":   {"cmd/internal/batch", "cmd/internal/web", "export/answer", "cmd/internal/help", "cmd/internal/job", "cmd/internal/demo", "coverage", "coverage/drive", "coverage/ground", "coverage/rig", "coverage/turn", "coverage/rework", "coverage/season", "coverage/spots", "coverage/sweeps", "export/sheet", "export/record", "export/words", "geo"},
	"cmd/balk":           {"cmd/internal/cli"},
	"testdata/check":     {},                                                                                                                       // for tests only: this table is of other files
	"testdata/trial":     {"geo", "geo/plane", "geo/read", "testdata/check"},                                                                       // for tests only
	"testdata/program":   {"coverage", "coverage/drive", "coverage/rig", "export/vector", "geo", "geo/read"},                                       // shows the packages
	"testdata/fieldday":  {"coverage", "coverage/drive", "coverage/pattern", "coverage/plan", "coverage/rig", "coverage/turn", "geo", "geo/plane"}, // for tests and for .ci/fieldday only
	"testdata/rival":     {"coverage/plan", "coverage/rig", "geo", "geo/plane"},                                                                    // for tests and for .ci/plans only
	"testdata/tally":     {},
	".ci/plans":          {"geo", "geo/plane", "geo/read", "testdata/rival", "testdata/tally"},
	".ci/fieldday":       {"testdata/fieldday", "testdata/tally"}, // a count of .ci/long
	".ci/mutants":        {},                                      // a tool of the gate

	// The program for many machines.
	"cmd/internal/bucket":  {"cmd/internal/batch", "geo"},
	"cmd/internal/columns": {"cmd/internal/batch"},
	"cmd/internal/many":    {"cmd/internal/batch", "cmd/internal/crew", "cmd/internal/job", "geo"},
	"cmd/balk-many":        {"cmd/internal/batch", "cmd/internal/bucket", "cmd/internal/columns", "cmd/internal/job", "cmd/internal/many", "cmd/internal/queue", "coverage/drive", "export/words"},
	"testdata/postgres":    {"testdata/check"}, // for tests only

	"cmd/internal/folder":   {"geo/workers"},
	"cmd/internal/help":     {},
	"cmd/internal/web/page": {},                                        // bundles the page; a module of its own
	"cmd/internal/pages":    {"cmd/internal/help", "cmd/internal/cli"}, // a tool of the release
}

// only names the rooms that alone may import a package from outside.
var only = map[string][]string{
	"github.com/jonas-p/go-shp":              {"geo/read", "export/vector"},
	"modernc.org/sqlite":                     {"geo/read", "export/vector", "geo/crs/internal/gen", "cmd/internal/farm", "cmd/internal/queue"},
	"modernc.org/sqlite/lib":                 {"geo/read", "cmd/internal/farm", "cmd/internal/queue"},
	"net/http":                               {"cmd/internal/web", "cmd/internal/many"}, // the page; metrics
	"codeberg.org/go-pdf/fpdf":               {"export/sheet/paper"},
	"golang.org/x/image/vector":              {"export/sheet/paper"},
	"github.com/go-text/typesetting/shaping": {"export/sheet/paper"},
	"github.com/go-text/typesetting/font":    {"export/sheet/paper"},
	"github.com/piglig/go-qr":                {"export/sheet"},
	"github.com/paulmach/orb/geo":            {},
	"github.com/paulmach/orb/planar":         {},

	"github.com/jackc/pgx/v5":                            {"cmd/internal/many", "testdata/postgres"},
	"github.com/minio/minio-go/v7":                       {"cmd/internal/bucket"},
	"github.com/parquet-go/parquet-go":                   {}, // tests read back with it
	"github.com/parquet-go/parquet-go/format":            {"cmd/internal/columns"},
	"github.com/riverqueue/river/riverdriver/riverpgxv5": {"cmd/internal/many"},
}

func TestImportsFollowTheFloorPlan(t *testing.T) {
	root := filepath.Join("..", "..")
	files := 0
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		rel, err := filepath.Rel(root, path)
		if err != nil {
			return err
		}
		room := filepath.ToSlash(filepath.Dir(rel))
		owner := room
		if i := strings.Index(room, "/internal/"); i >= 0 && !strings.HasPrefix(room, "cmd/") {
			owner = room[:i] // works below a room belong to it
		}
		allowed, known := arrows[owner]
		if !known {
			t.Errorf("%s: the room %q is not in the table", rel, room)
			return nil
		}
		f, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		files++
		for _, im := range f.Imports {
			name, err := strconv.Unquote(im.Path.Value)
			if err != nil {
				return err
			}
			if rooms, limited := only[name]; limited && !contains(rooms, room) {
				t.Errorf("%s imports %s, which only %v may", rel, name, rooms)
			}
			if in, ok := strings.CutPrefix(name, "balk/"); ok && in != owner && !strings.HasPrefix(in, owner+"/internal/") && !contains(allowed, in) {
				t.Errorf("%s: no arrow from %s to %s", rel, owner, in)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if files < 5 {
		t.Fatalf("looked at %d files: the test does not see the repository", files)
	}
}

func contains(list []string, s string) bool {
	for _, l := range list {
		if l == s {
			return true
		}
	}
	return false
}
