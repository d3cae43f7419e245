package vector

import (
	"bytes"
	"encoding/csv"
	"encoding/hex"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"balk/geo"
	"balk/geo/read"

	"github.com/paulmach/orb"
	geom "github.com/twpayne/go-geom"
	"github.com/twpayne/go-geom/encoding/wkb"
)

// saved writes a file with one of the writers and gives the path to read.
func saved(t *testing.T, name string, l Layer) string {
	t.Helper()
	dir := t.TempDir()
	file := map[string]string{"shapefile": "out.shp", "GeoPackage": "out.gpkg", "KML": "out.kml", "KMZ": "out.kmz", "GeoJSON": "out.geojson",
		"shapefiles in a zip": "out.zip", "ISO 11783-10": "TASKDATA.XML", "GPX": "out.gpx", "CSV": "out.csv", "WKB": "out.wkb.csv"}[name]
	path := filepath.Join(dir, file)
	for _, w := range writers() {
		if w.name != name {
			continue
		}
		var b bytes.Buffer
		if err := w.write(dir, l, &b); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if b.Len() > 0 {
			if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		return path
	}
	t.Fatalf("no writer %q", name)
	return ""
}

func multi(g orb.Geometry) orb.MultiPolygon {
	if p, ok := g.(orb.Polygon); ok {
		return orb.MultiPolygon{p}
	}
	return g.(orb.MultiPolygon)
}

// apart is the greatest difference of two positions, in degrees; infinite if
// the rings are not as many and as long. Rings may begin at another corner.
func apart(a, b orb.MultiPolygon) float64 {
	inf := math.Inf(1)
	if len(a) != len(b) {
		return inf
	}
	worst := 0.0
	for i := range a {
		if len(a[i]) != len(b[i]) {
			return inf
		}
		for k := range a[i] {
			worst = max(worst, ringsApart(a[i][k], b[i][k]))
		}
	}
	return worst
}

func ringsApart(a, b orb.Ring) float64 {
	best := math.Inf(1)
	if len(a) != len(b) {
		return best
	}
	n := len(a) - 1
	for from := range n {
		worst := 0.0
		for i := range n {
			p, q := a[i], b[(i+from)%n]
			worst = max(worst, math.Abs(p[0]-q[0]), math.Abs(p[1]-q[1]))
		}
		best = min(best, worst)
	}
	return best
}

// Boundaries with names of all kinds come back from our own reader: as many, in
// the same order, with their names, their positions to the last digit written,
// and their areas to 1e-6.
func TestFieldsReadBack(t *testing.T) {
	l := named(wild)
	for _, format := range []string{"GeoJSON", "shapefile", "shapefiles in a zip", "KML", "KMZ", "GeoPackage"} {
		fields, findings, err := read.Fields(saved(t, format, l), read.Options{})
		if err != nil {
			t.Errorf("%s: %v", format, err)
			continue
		}
		for _, f := range findings {
			if f.Lost {
				t.Errorf("%s: %v", format, f)
			}
		}
		sameFields(t, format, l, fields, 0)
	}
}

func sameFields(t *testing.T, format string, l Layer, fields []geo.Field, tolerance float64) {
	t.Helper()
	if len(fields) != len(l.Features) {
		t.Errorf("%s: %d fields, want %d", format, len(fields), len(l.Features))
		return
	}
	for i, f := range fields {
		want := multi(l.Features[i].Geometry)
		if f.Name != strings.TrimSpace(wild[i]) {
			t.Errorf("%s, field %d: name %q, want %q", format, i, f.Name, wild[i])
		}
		if d := apart(want, f.Boundary); d > tolerance {
			t.Errorf("%s, field %d: moved by %g°, allowed %g°", format, i, d, tolerance)
		}
		a, b := squareMetres(want), squareMetres(f.Boundary)
		if math.Abs(a-b) > 1e-6*a {
			t.Errorf("%s, field %d: %.6f m², want %.6f", format, i, b, a)
		}
	}
}

// The strips come back as areas from every format that has areas.
func TestStripsReadBack(t *testing.T) {
	r := strips(40)
	layers, err := LayersOf(r)
	if err != nil {
		t.Fatal(err)
	}
	missed := anonymous(layers[7])
	for _, format := range []string{"GeoJSON", "shapefile", "shapefiles in a zip", "KML", "KMZ", "GeoPackage"} {
		fields, _, err := read.Fields(saved(t, format, missed), read.Options{})
		if err != nil {
			t.Errorf("%s: %v", format, err)
			continue
		}
		if len(fields) != 40 {
			t.Errorf("%s: %d strips, want 40", format, len(fields))
			continue
		}
		for i, f := range fields {
			want := multi(missed.Features[i].Geometry)
			if d := apart(want, f.Boundary); d != 0 {
				t.Errorf("%s, strip %d: moved by %g°", format, i+1, d)
			}
			if a, b := squareMetres(want), squareMetres(f.Boundary); math.Abs(a-b) > 1e-6*a {
				t.Errorf("%s, strip %d: %g m², want %g", format, i+1, b, a)
			}
		}
	}
}

// Places of strips come back as positions, lines as tracks.
func TestPlacesAndLinesReadBack(t *testing.T) {
	places, err := Places(strips(40), nil)
	if err != nil {
		t.Fatal(err)
	}
	places = anonymous(places)
	for _, format := range []string{"GeoJSON", "shapefile", "GeoPackage", "CSV"} {
		got := fixes(t, format, saved(t, format, places))
		if len(got) != 40 {
			t.Errorf("%s: %d places, want 40", format, len(got))
			continue
		}
		for i, p := range got {
			if want := places.Features[i].Geometry.(orb.Point); p != want {
				t.Errorf("%s, place %d: %v, want %v", format, i+1, p, want)
			}
		}
	}
	var want []orb.Point
	for _, f := range guidance().Features {
		switch g := f.Geometry.(type) {
		case orb.LineString:
			want = append(want, g...)
		case orb.MultiLineString:
			for _, s := range g {
				want = append(want, s...)
			}
		}
	}
	for _, format := range []string{"GeoJSON", "shapefile", "shapefiles in a zip", "KML", "KMZ", "GeoPackage"} {
		if got := fixes(t, format, saved(t, format, guidance())); !slices.Equal(got, want) {
			t.Errorf("%s: %v, want %v", format, got, want)
		}
	}
}

func fixes(t *testing.T, format, path string) (out []orb.Point) {
	t.Helper()
	tracks, _, err := read.Tracks(path, read.TrackOptions{})
	if err != nil {
		t.Errorf("%s: %v", format, err)
	}
	for _, track := range tracks {
		flat, stride := track.Line.FlatCoords(), track.Line.Stride()
		for i := 0; i < len(flat); i += stride {
			out = append(out, orb.Point{flat[i], flat[i+1]})
		}
	}
	return out
}

// A table read back by a reader of such tables has the same text; a spreadsheet
// that takes one apostrophe off has it too.
func TestTablesReadBack(t *testing.T) {
	l := named(wild)
	for _, o := range []CSV{{}, {BOM: true}, {DecimalComma: true}, {BOM: true, DecimalComma: true}} {
		text := writtenBytes(t, func(w io.Writer) error { return WriteCSV(w, l, o) })
		if got := bytes.HasPrefix(text, []byte("\xef\xbb\xbf")); got != o.BOM {
			t.Errorf("%+v: byte order mark %t", o, got)
		}
		if !bytes.HasSuffix(text, []byte("\r\n")) {
			t.Errorf("%+v: the last line does not end in CR LF", o)
		}
		c := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(text, []byte("\xef\xbb\xbf"))))
		if o.DecimalComma {
			c.Comma = ';'
		}
		rows, err := c.ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Join(rows[0], " "); got != "name number" || len(rows) != 1+len(wild) {
			t.Fatalf("%+v: head %q, %d rows", o, got, len(rows))
		}
		for i, row := range rows[1:] {
			got := row[0]
			if strings.ContainsAny(got[:1], "=+-@\t\r") {
				t.Errorf("%+v: a spreadsheet would take %q for a formula", o, got)
			}
			if isFormula([]byte(got)) {
				got = got[1:]
			}
			if got != wild[i] || row[1] != fmt.Sprint(i+1) {
				t.Errorf("%+v: %q, want %q", o, row, wild[i])
			}
		}
	}
	layers, err := LayersOf(strips(3))
	if err != nil {
		t.Fatal(err)
	}
	text := string(writtenBytes(t, func(w io.Writer) error { return WriteCSV(w, layers[7], CSV{DecimalComma: true}) }))
	second := strings.Split(text, "\r\n")[2]
	if want := "2;4,57;20,00;0,229;0,229;72,8;lifted early or lowered late;1 2;no pass beside it;none;not known;0,00;0,00;false;"; !strings.HasPrefix(second, want) {
		t.Errorf("decimal commas: %q, want %q ...", second, want)
	}
	negative := Layer{Name: "n", Kind: Points, Columns: []Property{{Name: "v", Holds: Number, Decimals: 1}}, Features: []Feature{{orb.Point{1, 2}, []any{-5.0}}, {orb.Point{1, 2}, []any{nil}}}}
	if got := string(writtenBytes(t, func(w io.Writer) error { return WriteCSV(w, negative, CSV{}) })); got != "v\r\n-5.0\r\n\"\"\r\n" {
		t.Errorf("a negative number must stay one, an empty row must stay a row: %q", got)
	}
}

func TestWKBReadsBack(t *testing.T) {
	for _, l := range sampleLayers(t) {
		rows, err := csv.NewReader(bytes.NewReader(writtenBytes(t, func(w io.Writer) error { return WriteWKB(w, l) }))).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		if len(rows) != 1+len(l.Features) {
			t.Errorf("%s: %d rows, want %d", l.Name, len(rows)-1, len(l.Features))
			continue
		}
		for i, row := range rows[1:] {
			for k, cell := range row[:len(row)-1] { // no formula, and the text comes back without the apostrophe
				if l.Columns[k].Holds == Words && cell != "" && strings.ContainsAny(cell[:1], "=+-@\t\r") {
					t.Errorf("%s, feature %d: a spreadsheet would take %q for a formula", l.Name, i+1, cell)
				}
				if isFormula([]byte(cell)) {
					cell = cell[1:]
				}
				if want := l.Columns[k].text(l.Features[i].Row[k]); l.Columns[k].Holds == Words && cell != want {
					t.Errorf("%s, feature %d: %q, want %q", l.Name, i+1, cell, want)
				}
			}
			raw, err := hex.DecodeString(row[len(row)-1])
			if err != nil {
				t.Fatal(err)
			}
			g, err := wkb.Unmarshal(raw) // another library than the one that wrote it
			if err != nil {
				t.Fatal(err)
			}
			if got, want := flatOf(l.Features[i].Geometry), g.FlatCoords(); !slices.Equal(got, want) || g.Layout() != geom.XY || raw[0] != 1 {
				t.Errorf("%s, feature %d: %v, want %v", l.Name, i+1, got, want)
			}
		}
	}
}

func flatOf(g orb.Geometry) (flat []float64) {
	switch g := g.(type) {
	case orb.Point:
		flat = append(flat, g[0], g[1])
	case orb.LineString:
		for _, p := range g {
			flat = append(flat, p[0], p[1])
		}
	case orb.MultiLineString:
		for _, s := range g {
			flat = append(flat, flatOf(s)...)
		}
	case orb.Polygon:
		for _, r := range g {
			flat = append(flat, flatOf(orb.LineString(r))...)
		}
	case orb.MultiPolygon:
		for _, p := range g {
			flat = append(flat, flatOf(p)...)
		}
	}
	return flat
}

// wellFormedXML fails if a text is no whole XML document.
func wellFormedXML(t *testing.T, what string, text []byte) {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(text))
	depth := 0
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) && depth == 0 {
			return
		}
		if err != nil {
			t.Errorf("%s is not well-formed: %v", what, err)
			return
		}
		switch tok.(type) {
		case xml.StartElement:
			depth++
		case xml.EndElement:
			depth--
		}
	}
}

// anonymous is a layer of a result without what tells that balk wrote it: the mark, and properties that no other maker has.
func anonymous(l Layer) Layer {
	own := func(name string) bool {
		return slices.Contains([]string{markColumn, "cause", "depth_m", "worked", "why"}, name)
	}
	columns := l.Columns
	l.Columns = slices.DeleteFunc(slices.Clone(columns), func(c Property) bool { return own(c.Name) })
	features := l.Features
	l.Features = nil
	for _, f := range features {
		var row []any
		for i, v := range f.Row {
			if !own(columns[i].Name) {
				row = append(row, v)
			}
		}
		l.Features = append(l.Features, Feature{f.Geometry, row})
	}
	return l
}
