package vector

import (
	"archive/zip"
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	shp "github.com/jonas-p/go-shp"
	"github.com/paulmach/orb"
)

var day = time.Date(2026, 4, 14, 0, 0, 0, 0, time.UTC)

func TestShapefileReadsBack(t *testing.T) {
	dir := t.TempDir()
	ring := orb.Ring{{11, 48}, {11.001, 48}, {11.001, 48.001}, {11, 48.001}, {11, 48}} // counter-clockwise
	s := Shapefile{Columns: []Column{{"name", 20, -1}, {"area", 10, 2}}, Date: day,
		Records: []Record{{Polygon: orb.Polygon{ring}, Row: []any{"Moosfeld", 12.5}}, {Polygon: orb.Polygon{ring}, Row: []any{"Öd", 3.0}}}}
	if err := s.Write(dir, "fields"); err != nil {
		t.Fatal(err)
	}
	r, err := shp.Open(filepath.Join(dir, "fields.shp"))
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	n := 0
	for r.Next() {
		i, shape := r.Shape()
		p := shape.(*shp.Polygon)
		if len(p.Points) != 5 {
			t.Errorf("record %d has %d points, want 5", i, len(p.Points))
		}
		var got orb.Ring
		for _, q := range p.Points {
			got = append(got, orb.Point{q.X, q.Y})
		}
		if got.Orientation() != orb.CW {
			t.Errorf("record %d: the outer ring does not run clockwise", i)
		}
		if name := strings.TrimSpace(r.ReadAttribute(i, 0)); name != s.Records[i].Row[0] {
			t.Errorf("record %d: name %q", i, name)
		}
		n++
	}
	if n != 2 || r.Err() != nil {
		t.Errorf("%d records read, want 2 (%v)", n, r.Err())
	}
	dbf, err := os.ReadFile(filepath.Join(dir, "fields.dbf"))
	if err != nil {
		t.Fatal(err)
	}
	if dbf[1] != 126 || dbf[2] != 4 || dbf[3] != 14 {
		t.Errorf("the table is dated %d-%d-%d, want 126-4-14", dbf[1], dbf[2], dbf[3])
	}
	if i := bytes.IndexByte(dbf[33+2*32:], 0); i >= 0 {
		t.Errorf("a NUL byte at %d of the table's rows", i)
	}
	left, err := filepath.Glob(filepath.Join(dir, "*"))
	if err != nil || len(left) != len(extensions) {
		t.Errorf("files %v, want one for each of %v (%v)", left, extensions, err)
	}
	var z bytes.Buffer
	if err := Zip(&z, dir, "fields", day); err != nil {
		t.Fatal(err)
	}
	zr, err := zip.NewReader(bytes.NewReader(z.Bytes()), int64(z.Len()))
	if err != nil || len(zr.File) != len(extensions) {
		t.Fatalf("zip: %v", err)
	}
}

func TestShapefileRefusesWhatDoesNotFit(t *testing.T) {
	for name, s := range map[string]Shapefile{
		"a column name of 11 bytes":     {Columns: []Column{{"workingwidt", 5, 2}}, Date: day},
		"text longer than its column":   {Columns: []Column{{"name", 3, -1}}, Date: day, Points: true, Records: []Record{{Row: []any{"long"}}}},
		"a value of a kind not written": {Columns: []Column{{"name", 9, -1}}, Date: day, Points: true, Records: []Record{{Row: []any{day}}}},
	} {
		if err := s.Write(t.TempDir(), "x"); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	if err := (Shapefile{Date: day}).Write(filepath.Join(t.TempDir(), "missing"), "x"); err == nil {
		t.Error("a folder that is not there: no error")
	}
}
