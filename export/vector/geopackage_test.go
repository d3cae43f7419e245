package vector

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"
)

// asked gives the rows of a query as text.
func asked(t *testing.T, path, query string, args ...any) (out []string) {
	t.Helper()
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	rows, err := db.Query(query, args...)
	if err != nil {
		t.Fatalf("%s: %v", query, err)
	}
	defer rows.Close()
	columns, err := rows.Columns()
	if err != nil {
		t.Fatal(err)
	}
	for rows.Next() {
		cells, into := make([]any, len(columns)), make([]any, len(columns))
		for i := range cells {
			into[i] = &cells[i]
		}
		if err := rows.Scan(into...); err != nil {
			t.Fatal(err)
		}
		var row []string
		for _, c := range cells {
			if when, ok := c.(time.Time); ok {
				c = when.Format(time.RFC3339Nano)
			}
			row = append(row, fmt.Sprint(c))
		}
		out = append(out, strings.Join(row, "|"))
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	return out
}

// The tables that OGC 12-128r14 asks for are there and agree with each other.
func TestGeoPackageKeepsTheStandard(t *testing.T) {
	layers := append(sampleLayers(t), Layer{Name: "again", Title: "Missed strips", Kind: Lines})
	path := filepath.Join(t.TempDir(), "farm % ? #.gpkg")
	if err := WriteGeoPackage(t.Context(), path, layers, at); err != nil {
		t.Fatal(err)
	}
	plain := filepath.Join(t.TempDir(), "plain.gpkg") // the driver takes what follows a ? as its own
	if err := os.Rename(path, plain); err != nil {
		t.Fatal(err)
	}
	head, err := os.ReadFile(plain)
	if err != nil || string(head[68:72]) != "GPKG" {
		t.Fatalf("application id %q (%v)", head[68:72], err)
	}
	is := func(query, want string, args ...any) {
		t.Helper()
		if got := strings.Join(asked(t, plain, query, args...), "\n"); got != want {
			t.Errorf("%s: %q, want %q", query, got, want)
		}
	}
	is("PRAGMA integrity_check", "ok")
	is("PRAGMA foreign_key_check", "")
	is("PRAGMA user_version", "10200")
	is("SELECT srs_id, organization FROM gpkg_spatial_ref_sys ORDER BY srs_id", "-1|NONE\n0|NONE\n4326|EPSG")
	is("SELECT count(*), min(last_change), max(last_change) FROM gpkg_contents", fmt.Sprintf("%d|2026-04-15T10:30:00.000Z|2026-04-15T10:30:00.000Z", len(layers)+1))
	is("SELECT table_name, data_type, srs_id FROM gpkg_contents WHERE data_type != 'features'", "layer_styles|attributes|<nil>")
	is("SELECT identifier FROM gpkg_contents WHERE table_name IN ('missed', 'again') ORDER BY 1", "Missed strips\nMissed strips (again)")
	is("SELECT description FROM gpkg_contents WHERE table_name = 'missed'", "missed in all: 20.00 m²; slivers too narrow to list: 4; their area: 0.50 m²; strips that are only possible, not listed: 0; their area: 0.00 m²")
	is("SELECT count(*) FROM gpkg_contents WHERE description LIKE '%date%'", "0")
	is("SELECT count(*), sum(useAsDefault), count(DISTINCT f_table_name), min(update_time) FROM layer_styles WHERE f_geometry_column = 'geom'", fmt.Sprintf("%d|%[1]d|%[1]d|2026-04-15T10:30:00.000Z", len(layers)))
	for _, l := range layers {
		kind := map[Kind]string{Areas: "POLYGON", Lines: "LINESTRING", Points: "POINT"}[l.Kind]
		if l.Name == "fields" || l.Name == "guidance" { // shapes of several parts
			kind = "MULTI" + kind
		}
		is("SELECT column_name, geometry_type_name, srs_id, z, m FROM gpkg_geometry_columns WHERE table_name = ?", "geom|"+kind+"|4326|0|0", l.Name)
		is("SELECT column_name, extension_name, scope FROM gpkg_extensions WHERE table_name = ?", "geom|gpkg_rtree_index|write-only", l.Name)
		is("SELECT count(*) FROM sqlite_schema WHERE type = 'trigger' AND tbl_name = ?", "6", l.Name)
		b, ok := l.bound()
		want := "<nil>|<nil>|<nil>|<nil>"
		if ok {
			want = fmt.Sprint(b.Min[0], "|", b.Min[1], "|", b.Max[0], "|", b.Max[1])
		}
		is("SELECT min_x, min_y, max_x, max_y FROM gpkg_contents WHERE table_name = ?", want, l.Name)
		checkIndex(t, plain, l)
		for _, style := range asked(t, plain, "SELECT styleSLD FROM layer_styles WHERE f_table_name = ?", l.Name) {
			wellFormedXML(t, "style of "+l.Name, []byte(style))
			if l.Style.Fill != "" && !strings.Contains(style, l.Style.Fill) {
				t.Errorf("the style of %s lacks %s", l.Name, l.Style.Fill)
			}
		}
	}
	is("SELECT known FROM guidance ORDER BY fid", "2026-04-14T06:00:00.5Z\n<nil>\n<nil>")
	is("SELECT passes, headland FROM missed WHERE fid = 3", "2 3|1")
}

// checkIndex: every box of the index holds its feature and is hardly larger: its
// numbers have 32 bits, so they are off by at most 1e-7 of themselves.
func checkIndex(t *testing.T, path string, l Layer) {
	t.Helper()
	rows := asked(t, path, fmt.Sprintf("SELECT id, minx, maxx, miny, maxy FROM rtree_%s_geom ORDER BY id", l.Name))
	if len(rows) != len(l.Features) {
		t.Errorf("the index of %s has %d boxes for %d features", l.Name, len(rows), len(l.Features))
		return
	}
	for i, row := range rows {
		var id int
		var box [4]float64
		if _, err := fmt.Sscanf(strings.ReplaceAll(row, "|", " "), "%d %g %g %g %g", &id, &box[0], &box[1], &box[2], &box[3]); err != nil {
			t.Fatal(row, err)
		}
		b := l.Features[i].Geometry.Bound()
		for k, d := range []float64{b.Min[0] - box[0], box[1] - b.Max[0], b.Min[1] - box[2], box[3] - b.Max[1]} {
			if d < 0 || d > 2.5e-7*math.Abs(box[k]) || id != i+1 {
				t.Errorf("%s, box %d: %v around %v", l.Name, id, box, b)
			}
		}
	}
}

// The head of a geometry: magic, version, little-endian with a box in the order
// minx, maxx, miny, maxy, the system; points have no box.
func TestGeoPackageGeometryHead(t *testing.T) {
	line := orb.LineString{{11, 48}, {12, 47}}
	b, err := AppendBlob(nil, line)
	if err != nil {
		t.Fatal(err)
	}
	if string(b[:2]) != "GP" || b[2] != 0 || b[3] != 3 || little.Uint32(b[4:]) != 4326 {
		t.Errorf("head % x", b[:8])
	}
	for i, want := range []float64{11, 12, 47, 48} {
		if got := math.Float64frombits(little.Uint64(b[8+8*i:])); got != want {
			t.Errorf("number %d of the box is %g, want %g", i, got, want)
		}
	}
	if b[40] != 1 || little.Uint32(b[41:]) != 2 {
		t.Errorf("after the box: % x, want the well-known binary of a line", b[40:45])
	}
	if b, err = AppendBlob(nil, orb.Point{11, 48}); err != nil || b[3] != 1 || len(b) != 8+21 {
		t.Errorf("a point: % x (%v)", b, err)
	}
}

func TestGeoPackageRefusals(t *testing.T) {
	spot := func(name, column string) Layer {
		return Layer{Name: name, Kind: Points, Columns: []Property{{Name: column, Holds: Words}}, Features: []Feature{{orb.Point{11, 48}, []any{"a"}}}}
	}
	for name, layers := range map[string][]Layer{
		"a table of the standard":        {spot("gpkg_contents", "a")},
		"a table of an index":            {spot("rtree_x_geom", "a")},
		"the table of styles":            {spot("layer_styles", "a")},
		"a column called like the id":    {spot("x", "fid")},
		"a column called like the shape": {spot("x", "geom")},
		"two layers of one name":         {spot("x", "a"), spot("x", "b")},
	} {
		path := filepath.Join(t.TempDir(), "x.gpkg")
		var broken *LayerError
		if err := WriteGeoPackage(t.Context(), path, layers, at); !errors.As(err, &broken) {
			t.Errorf("%s: %v", name, err)
		}
		if _, err := os.Stat(path); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("%s: a file is left (%v)", name, err)
		}
	}
	path := filepath.Join(t.TempDir(), "there.gpkg")
	if err := os.WriteFile(path, []byte("mine"), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := WriteGeoPackage(t.Context(), path, nil, at); !errors.Is(err, fs.ErrExist) {
		t.Errorf("a file that is there: %v", err)
	}
	if text, err := os.ReadFile(path); err != nil || string(text) != "mine" {
		t.Errorf("the file that was there is now %q (%v)", text, err)
	}
	if err := WriteGeoPackage(t.Context(), filepath.Join(t.TempDir(), "no", "x.gpkg"), nil, at); err == nil {
		t.Error("a folder that is not there: no error")
	}
}

// waning is done once it was asked so often.
type waning struct {
	context.Context
	left int
}

func (w *waning) Err() error {
	if w.left--; w.left < 0 {
		return context.Canceled
	}
	return nil
}

// A call that is given up stops at the next feature, and leaves no file.
func TestGeoPackageGivenUp(t *testing.T) {
	l := Layer{Name: "x", Kind: Points, Columns: []Property{{Name: "a", Holds: Words}}, Features: make([]Feature, 100)}
	for i := range l.Features {
		l.Features[i] = Feature{orb.Point{11, 48}, []any{"a"}}
	}
	for _, after := range []int{0, 50} {
		path := filepath.Join(t.TempDir(), "x.gpkg")
		if err := WriteGeoPackage(&waning{t.Context(), after}, path, []Layer{l}, at); !errors.Is(err, context.Canceled) {
			t.Errorf("given up after %d of %d features: %v", after, len(l.Features), err)
		}
		if _, err := os.Stat(path); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("given up after %d features: a file is left (%v)", after, err)
		}
	}
}

// Without a time of its own the file bears the clock's, as the standard has it, and says of every table that it does.
func TestUndatedGeoPackageSaysSo(t *testing.T) {
	layers := sampleLayers(t)
	path := filepath.Join(t.TempDir(), "undated.gpkg")
	before := time.Now().UTC().Add(-time.Second)
	if err := WriteGeoPackage(t.Context(), path, layers, time.Time{}); err != nil {
		t.Fatal(err)
	}
	if got := asked(t, path, "SELECT count(*) FROM gpkg_contents WHERE description LIKE '%'||?", undated); strings.Join(got, "") != fmt.Sprint(len(layers)+1) {
		t.Errorf("%v of %d tables say that they have no date", got, len(layers)+1)
	}
	for _, text := range asked(t, path, "SELECT DISTINCT last_change FROM gpkg_contents") {
		at, err := time.Parse(time.RFC3339Nano, text)
		if err != nil || at.Before(before) || at.After(time.Now().UTC().Add(time.Second)) {
			t.Errorf("last change %q, want the time of writing (%v)", text, err)
		}
	}
}
