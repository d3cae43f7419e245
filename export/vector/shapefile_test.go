package vector

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	shp "github.com/jonas-p/go-shp"
	"github.com/paulmach/orb"
)

var day = time.Date(2026, 4, 14, 0, 0, 0, 0, time.UTC)

func TestShapefileReadsBack(t *testing.T) {
	dir := t.TempDir()
	ring := orb.Ring{{11, 48}, {11.001, 48}, {11.001, 48.001}, {11, 48.001}, {11, 48}} // counter-clockwise
	l := Layer{Name: "fields", Kind: Areas, Columns: []Property{{Name: "name", Holds: Words, Size: 20}, {Name: "area", Holds: Number, Size: 10, Decimals: 2}},
		Features: []Feature{{orb.Polygon{ring}, []any{"Moosfeld", 12.5}}, {orb.Polygon{ring}, []any{"Öd", 3.0}}}}
	if err := writeShapefile(dir, "fields", l, day); err != nil {
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
		if name := strings.TrimSpace(r.ReadAttribute(i, 0)); name != l.Features[i].Row[0] {
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
	if dbf[0] != 3 { // a table without memo fields (dBase III, from memory), dated or not
		t.Errorf("the table is of version %d, want 3", dbf[0])
	}
	if dbf[1] != 126 || dbf[2] != 4 || dbf[3] != 14 {
		t.Errorf("the table is dated %d-%d-%d, want 126-4-14", dbf[1], dbf[2], dbf[3])
	}
	if name, area := dbf[32+16], dbf[2*32+16]; name != 20 || area != 10 { // the size of a field stands in byte 16 of its descriptor
		t.Errorf("columns of %d and %d characters, want 20 and 10", name, area)
	}
	if i := bytes.IndexByte(dbf[33+2*32:], 0); i >= 0 {
		t.Errorf("a NUL byte at %d of the table's rows", i)
	}
	parts, err := Shapefile("fields", l, day)
	if err != nil {
		t.Fatal(err)
	}
	var z bytes.Buffer
	if err := Zip(&z, parts, day); err != nil {
		t.Fatal(err)
	}
	zr, err := zip.NewReader(bytes.NewReader(z.Bytes()), int64(z.Len()))
	if err != nil || len(zr.File) != 5 {
		t.Fatalf("zip: %v", err)
	}
}

// Every kind of layer reads back with go-shp: shapes, boxes, rows, the outer rings
// clockwise and their holes the other way, in the order of the features.
func TestShapefileOfEveryKindOfLayer(t *testing.T) {
	for _, l := range sampleLayers(t) {
		dir := t.TempDir()
		if err := writeShapefile(dir, l.Name, l, day); err != nil {
			t.Fatal(err)
		}
		r, err := shp.Open(filepath.Join(dir, l.Name+".shp"))
		if err != nil {
			t.Fatal(err)
		}
		if want := (map[Kind]shp.ShapeType{Areas: shp.POLYGON, Lines: shp.POLYLINE, Points: shp.POINT}[l.Kind]); r.GeometryType != want {
			t.Errorf("%s: kind %d, want %d", l.Name, r.GeometryType, want)
		}
		whole, _ := l.bound()
		if got := r.BBox(); got != boxOf(whole) {
			t.Errorf("%s: box %v, want %v", l.Name, got, whole)
		}
		n := 0
		for r.Next() {
			i, shape := r.Shape()
			f := l.Features[i]
			if got := shape.BBox(); got != boxOf(f.Geometry.Bound()) {
				t.Errorf("%s, record %d: box %v", l.Name, i, got)
			}
			if g, ok := shape.(*shp.Polygon); ok {
				checkDirections(t, l.Name, g, f.Geometry)
			}
			for k, c := range l.Columns {
				got := r.ReadAttribute(i, k)
				want := string(dbfText(c, f.Row[k], nil))
				if strings.Trim(got, " ") != strings.Trim(want, " ") {
					t.Errorf("%s, record %d: %s is %q, want %q", l.Name, i, c.Name, got, want)
				}
			}
			n++
		}
		if n != len(l.Features) || r.Err() != nil {
			t.Errorf("%s: %d records, want %d (%v)", l.Name, n, len(l.Features), r.Err())
		}
		r.Close()
		checkShapeIndex(t, filepath.Join(dir, l.Name), len(l.Features))
	}
}

func boxOf(b orb.Bound) shp.Box {
	return shp.Box{MinX: b.Min[0], MinY: b.Min[1], MaxX: b.Max[0], MaxY: b.Max[1]}
}

func checkDirections(t *testing.T, what string, g *shp.Polygon, want orb.Geometry) {
	t.Helper()
	k := 0
	for _, p := range multi(want) {
		for i, r := range p {
			to := len(g.Points)
			if k+1 < len(g.Parts) {
				to = int(g.Parts[k+1])
			}
			var ring orb.Ring
			for _, q := range g.Points[g.Parts[k]:to] {
				ring = append(ring, orb.Point{q.X, q.Y})
			}
			if (ring.Orientation() == orb.CW) != (i == 0) || len(ring) != len(r) {
				t.Errorf("%s: ring %d with %d points runs %d", what, k, len(ring), ring.Orientation())
			}
			k++
		}
	}
	if k != len(g.Parts) {
		t.Errorf("%s: %d rings, want %d", what, len(g.Parts), k)
	}
}

// checkShapeIndex follows the .shx into the .shp.
func checkShapeIndex(t *testing.T, stem string, n int) {
	t.Helper()
	index, err1 := os.ReadFile(stem + ".shx")
	shapes, err2 := os.ReadFile(stem + ".shp")
	if err1 != nil || err2 != nil || len(index) != 100+8*n || int(big.Uint32(index[24:]))*2 != len(index) || int(big.Uint32(shapes[24:]))*2 != len(shapes) {
		t.Fatalf("%s: index of %d bytes for %d records, or a wrong length in a header (%v, %v)", stem, len(index), n, err1, err2)
	}
	end := 100
	for i := range n {
		at, size := int(big.Uint32(index[100+8*i:]))*2, int(big.Uint32(index[104+8*i:]))*2
		if at != end || int(big.Uint32(shapes[at:])) != i+1 || int(big.Uint32(shapes[at+4:]))*2 != size {
			t.Fatalf("%s, record %d: the index says byte %d, %d bytes", stem, i+1, at, size)
		}
		end = at + 8 + size
	}
	if end != len(shapes) {
		t.Errorf("%s: the records end at byte %d of %d", stem, end, len(shapes))
	}
}

func TestShortNames(t *testing.T) {
	var columns []Property
	for _, name := range []string{"strip", "mean_width_m", "mean_width_n", "mean_width_o", "mean_wid_2", "exactly_10", "a", "b"} {
		columns = append(columns, Property{Name: name})
	}
	columns[7].Short = "a"
	want := "strip mean_width mean_wid_2 mean_wid_3 mean_wid_4 exactly_10 a a_2"
	if got := strings.Join(shortNames(columns), " "); got != want {
		t.Errorf("%s, want %s", got, want)
	}
	for i := range 200 { // many alike are told apart as well
		columns = append(columns, Property{Name: "long_name_number_" + string(rune('a'+i%26))})
	}
	seen := map[string]bool{}
	for _, name := range shortNames(columns) {
		if len(name) > 10 || seen[name] {
			t.Errorf("%q is too long or there twice", name)
		}
		seen[name] = true
	}
}

func TestShapefileLimits(t *testing.T) {
	spot := func(c Property, v any) Layer {
		return Layer{Name: "x", Kind: Points, Columns: []Property{c}, Features: []Feature{{orb.Point{11, 48}, []any{v}}}}
	}
	wide := Layer{Name: "x", Kind: Points}
	for i := range 256 {
		wide.Columns = append(wide.Columns, Property{Name: "c" + strconv.Itoa(i), Holds: Whole})
	}
	long := Layer{Name: "x", Kind: Points}
	long.Features = []Feature{{Geometry: orb.Point{11, 48}}}
	for i := range 150 {
		long.Columns = append(long.Columns, Property{Name: "c" + strconv.Itoa(i), Holds: Words})
		long.Features[0].Row = append(long.Features[0].Row, strings.Repeat("x", 254))
	}
	for name, l := range map[string]Layer{
		"a number of 21 characters":     spot(Property{Name: "a", Holds: Number, Decimals: 10}, 1234567890.5),
		"256 columns":                   wide,
		"rows of more than 32767 bytes": long,
	} {
		var broken *LayerError
		if err := writeShapefile(t.TempDir(), "x", l, day); !errors.As(err, &broken) {
			t.Errorf("%s: %v", name, err)
		}
	}
	for name, l := range map[string]Layer{
		"text of 254 bytes":         spot(Property{Name: "a", Holds: Words}, strings.Repeat("x", 254)),
		"a number of 20 characters": spot(Property{Name: "a", Holds: Number, Decimals: 9}, 1234567890.5),
	} {
		if err := writeShapefile(t.TempDir(), "x", l, day); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	if err := writeShapefile(t.TempDir(), "x", spot(Property{Name: "a", Holds: Words}, "a"), time.Date(1899, 12, 31, 0, 0, 0, 0, time.UTC)); err == nil {
		t.Error("a table dated in the year 1899: no error")
	}
	// A .shp just below and just above 2 GB, by its sizes alone: 44 + 4 + 8 bytes
	// for a line, 16 for each of its points.
	for points, fits := range map[int]bool{(1<<31 - 1 - 100 - 56) / 16: true, (1<<31-1-100-56)/16 + 1: false} {
		if err := shapesFit(100 + 8 + 44 + 4 + 16*int64(points)); (err == nil) != fits {
			t.Errorf("%d points: %v", points, err)
		}
	}
	many := shapeFile{kind: 1, n: 1 << 26, date: day, columns: []dbfColumn{{"a", 'C', 40, 0}}, shape: func(int) orb.Geometry { return orb.Point{1, 2} }}
	if err := many.check(); err == nil || !strings.Contains(err.Error(), "2 GB") {
		t.Errorf("67 million rows of 41 bytes: %v", err)
	}
}

// Text that is longer than a column takes is cut there, lists at whole items, and said.
func TestLongTextIsCutInShapefiles(t *testing.T) {
	count := func(n int) (list []int) {
		for i := range n {
			list = append(list, i+1)
		}
		return list
	}
	planned := make([]string, 90)
	for i := range planned {
		planned[i] = fmt.Sprintf("row %d", i+1)
	}
	for name, c := range map[string]struct {
		of   Property
		v    any
		want string // its end; "" = nothing is cut
	}{
		"88 passes, just 254 bytes":        {Property{Name: "passes", Holds: Wholes}, count(88), ""},
		"89 passes":                        {Property{Name: "passes", Holds: Wholes}, count(89), " … and 6 more"},
		"passes 1 to 150":                  {Property{Name: "passes", Holds: Wholes}, count(150), " 82 … and 68 more"}, // 237 bytes, and 17
		"a list of names":                  {Property{Name: "planned", Holds: Words, Listed: true}, strings.Join(planned, ", "), ", row 31 … and 59 more"},
		"a sentence of 300 bytes":          {Property{Name: "why", Holds: Words}, strings.Repeat("a, b. ", 50), "b.…"},
		"a sentence of letters of 2 bytes": {Property{Name: "why", Holds: Words}, strings.Repeat("ä", 200), "ää…"},
		"a sentence of 254 bytes":          {Property{Name: "why", Holds: Words}, strings.Repeat("x", 254), ""},
	} {
		l := Layer{Name: "x", Kind: Points, Columns: []Property{{Name: "n", Holds: Whole}, c.of}, Features: []Feature{{orb.Point{11, 48}, []any{1, nil}}, {orb.Point{11, 48}, []any{2, c.v}}}}
		whole := c.of.text(c.v)
		got := string(dbfText(c.of, c.v, nil))
		switch {
		case len(whole) <= maxDBFText:
			if got != whole {
				t.Errorf("%s: %q", name, got)
			}
		case len(got) > maxDBFText || len(got) < maxDBFText-8 || !utf8.ValidString(got) || !strings.HasSuffix(got, c.want):
			t.Errorf("%s: %d bytes, ends in %q, want %q", name, len(got), got[len(got)-min(len(got), 30):], c.want)
		}
		findings, err := ShapefileFindings("a.zip", []Layer{l})
		if err != nil || (len(findings) > 0) != (len(whole) > maxDBFText) {
			t.Errorf("%s: %v, %v", name, findings, err)
		}
		for _, f := range findings {
			if f.File != "a.zip" || f.Record != 2 || f.Lost {
				t.Errorf("%s: %+v", name, f)
			}
		}
		if err := writeShapefile(t.TempDir(), "x", l, time.Time{}); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestZipShapefilesHasAllLayersAndTheLegend(t *testing.T) {
	layers := sampleLayers(t)
	var b bytes.Buffer
	if err := ZipShapefiles(&b, layers, day); err != nil {
		t.Fatal(err)
	}
	z, err := zip.NewReader(bytes.NewReader(b.Bytes()), int64(b.Len()))
	if err != nil || len(z.File) != 5*len(layers)+1 {
		t.Fatalf("%d files, want 5 for each of %d layers and names.txt (%v)", len(z.File), len(layers), err)
	}
	f, err := z.Open("names.txt")
	if err != nil {
		t.Fatal(err)
	}
	legend, err := io.ReadAll(f)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"missed: Missed strips\r\n  missed in all: 20.00 m²;", "  mean_w_m    mean_width_m  mean width, m\r\n", "  bearing     bearing_deg  bearing from true north, °\r\n"} {
		if !strings.Contains(string(legend), want) {
			t.Errorf("%q is not in\n%s", want, legend)
		}
	}
}

// The table of short names in doc.go is the one that is written.
func TestShortNamesAreDocumented(t *testing.T) {
	doc, err := os.ReadFile("doc.go")
	if err != nil {
		t.Fatal(err)
	}
	text := strings.Join(strings.Fields(string(doc)), " ")
	for _, l := range sampleLayers(t) {
		for i, short := range shortNames(l.Columns) {
			if name := l.Columns[i].Name; name != short && !strings.Contains(text, "// "+name+" "+short+" ") && l.Name != "guidance" { // an invented layer
				t.Errorf("layer %s: %s is written as %s, which doc.go does not say", l.Name, name, short)
			}
		}
	}
}
