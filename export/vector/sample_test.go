package vector

import (
	"bytes"
	"context"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"balk/coverage"
	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// wild are texts that trip writers: scripts, marks of every format, line breaks.
var wild = []string{
	"Öd am Bach", "Длинное поле", "الحقل الطويل", "長い畑", "🌾 wheat 🚜", `the "long" one, at 5' & <b>7</b>`, "two\nlines", `=SUM(A1:A9)`, "+49 30", "-5", "@home",
	"semi;colon", "tab\tin it", "]]>", "&amp;", "'quoted'", "'=1", `back\slash`, "${x} $[name] %s", "1e5",
}

// strips is a result with n missed strips: bars 20 m by 0.2 to 0.4 m beside each
// other, not along an axis, the first with a hole.
func strips(n int) coverage.Result {
	r := farm()
	r.Strips = r.Strips[:0]
	s, c := math.Sincos(0.3)
	turn := func(x, y float64) plane.XY { return plane.Snap(plane.XY{X: x*c - y*s, Y: x*s + y*c}) }
	causes := []coverage.Cause{coverage.CauseDrift, coverage.CauseLift, coverage.CauseUndriven}
	for i := range n {
		w := 0.2 + 0.2*float64(i%7)/7
		x, y := float64(i%50)*25, float64(i/50)*1.5
		shape := plane.Polygon{{turn(x, y), turn(x+20, y), turn(x+20, y+w), turn(x, y+w)}}
		if i == 0 {
			shape = append(shape, plane.Ring{turn(x+1, y+0.05), turn(x+1, y+0.1), turn(x+2, y+0.1), turn(x+2, y+0.05)})
		}
		r.Strips = append(r.Strips, coverage.Strip{Number: i + 1, Area: shape.Area(), Length: 20, MeanWidth: w, MaxWidth: w, Bearing: 72.8, At: r.Local.Point(turn(x+10, y+w/2)),
			Passes: []int{i, i + 1}, Cause: causes[i%len(causes)], Headland: i%2 == 0, Shape: shape})
	}
	return r
}

// named is a layer of fields with wild names and shapes: a part with a hole, and
// every third field with a second part.
func named(names []string) Layer {
	var fields []geo.Field
	for i, name := range names {
		x := 11 + float64(i)*0.01
		square := func(x, y, side float64, ccw bool) orb.Ring {
			r := orb.Ring{{x, y}, {x + side, y}, {x + side, y + side}, {x, y + side}, {x, y}}
			if !ccw {
				r.Reverse()
			}
			return r
		}
		b := orb.MultiPolygon{{square(x, 48, 0.001, true), square(x+0.0002, 48.0002, 0.0001, false)}}
		if i%3 == 0 {
			b = append(b, orb.Polygon{square(x+0.002, 48, 0.0011, true)})
		}
		fields = append(fields, geo.Field{Name: name, Number: i + 1, Boundary: b})
	}
	l, err := fieldSource(Layer{Name: "fields", Title: "Field boundaries", Style: Style{Line: "#222222", Width: 2}}, fields, fieldColumns).layer()
	if err != nil {
		panic(err) // a fault of this file
	}
	return l
}

// guidance is a layer of lines as a plan hands them over: straight ones and a
// curve, one in two parts.
func guidance() Layer {
	return Layer{Name: "guidance", Title: "Guidance lines", Kind: Lines, Label: "line", Style: Style{Line: "#27364A", Width: 2},
		Columns: []Property{{Name: "line", Holds: Words}, {Name: "bearing_deg", Holds: Number, Decimals: 1}, {Name: "known", Holds: Instant}},
		Features: []Feature{
			{orb.LineString{{11, 48}, {11.002, 48.001}}, []any{"A1", 45.5, time.Date(2026, 4, 14, 6, 0, 0, 5e8, time.UTC)}},
			{orb.LineString{{11, 48.002}, {11.001, 48.0025}, {11.002, 48.002}}, []any{"curve", nil, nil}},
			{orb.MultiLineString{{{11, 48.003}, {11.001, 48.003}}, {{11.002, 48.003}, {11.003, 48.003}}}, []any{"two parts", 90.0, nil}},
		}}
}

// straight is guidance without its line in two parts.
func straight() Layer {
	l := guidance()
	l.Features = l.Features[:2]
	return l
}

var at = time.Date(2026, 4, 15, 10, 30, 0, 0, time.UTC)

// squareMetres is the area of polygons in m², on the plane of their middle.
func squareMetres(g orb.Geometry) float64 {
	l := geo.LocalAt(g.Bound().Center())
	var sum float64
	add := func(p orb.Polygon) {
		for _, r := range p {
			var flat plane.Ring
			for _, q := range r[:len(r)-1] {
				flat = append(flat, l.XY(q))
			}
			sum += flat.Area()
		}
	}
	switch g := g.(type) {
	case orb.Polygon:
		add(g)
	case orb.MultiPolygon:
		for _, p := range g {
			add(p)
		}
	}
	return sum
}

// writeShapefile puts the files of a shapefile into a folder.
func writeShapefile(dir, base string, l Layer, date time.Time) error {
	parts, err := Shapefile(base, l, date)
	for _, part := range parts {
		var b bytes.Buffer
		if err := part.Write(&b); err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(dir, part.Name), b.Bytes(), 0o644); err != nil {
			return err
		}
	}
	return err
}

// writer is one of the writers, into a file of its own in dir or into w. What a
// format cannot hold is an error on purpose: kinds are those it can.
type writer struct {
	name  string
	kinds []Kind
	write func(dir string, l Layer, w io.Writer) error
}

func writers() []writer {
	all := []Kind{Areas, Lines, Points}
	return []writer{
		{"GeoJSON", all, func(_ string, l Layer, w io.Writer) error { return WriteGeoJSON(w, l) }},
		{"shapefile", all, func(dir string, l Layer, w io.Writer) error { return writeShapefile(dir, "out", l, at) }},
		{"shapefiles in a zip", all, func(_ string, l Layer, w io.Writer) error { return ZipShapefiles(w, []Layer{l}, at) }},
		{"KML", all, func(_ string, l Layer, w io.Writer) error { return WriteKML(w, "farm", []Layer{l}) }},
		{"KMZ", all, func(_ string, l Layer, w io.Writer) error { return WriteKMZ(w, "farm", []Layer{l}, at) }},
		{"GPX", []Kind{Lines, Points}, func(_ string, l Layer, w io.Writer) error { return WriteGPX(w, "farm", []Layer{l}, at) }},
		{"GeoPackage", all, func(dir string, l Layer, w io.Writer) error {
			return WriteGeoPackage(context.Background(), filepath.Join(dir, "out.gpkg"), []Layer{l}, at)
		}},
		{"CSV", all, func(_ string, l Layer, w io.Writer) error { return WriteCSV(w, l, CSV{}) }},
		{"WKB", all, func(_ string, l Layer, w io.Writer) error { return WriteWKB(w, l) }},
		{"ISO 11783-10", []Kind{Areas, Lines}, func(_ string, l Layer, w io.Writer) error {
			f := TaskField{Name: "farm", Boundary: orb.MultiPolygon{{{{11, 48}, {12, 48}, {12, 49}, {11, 48}}}}}
			if l.Kind == Lines {
				f.Guidance = []Layer{l}
			} else {
				f.Zones = []Layer{l}
			}
			_, err := WriteISOXML(w, TaskData{Maker: "balk", Fields: []TaskField{f}})
			return err
		}},
		{"legend", all, func(_ string, l Layer, w io.Writer) error { return WriteLegend(w, []Layer{l}) }},
	}
}

// sampleLayers has all kinds of layers with all kinds of values.
func sampleLayers(t testing.TB) []Layer {
	t.Helper()
	r := strips(7)
	layers, err := LayersOf(r)
	if err != nil {
		t.Fatal(err)
	}
	places, err := Places(r, nil)
	if err != nil {
		t.Fatal(err)
	}
	return append(layers, places, guidance(), named(wild))
}

// seededDoubles gives a result whose doubled ground is n star-shaped pieces of
// 10 µm to 10 m, some of which vanish when rounded.
func seededDoubles(seed uint64, n int) coverage.Result {
	rng := rand.New(rand.NewPCG(seed, 1))
	r := farm()
	r.Layers.Double = nil
	for range n {
		size := math.Pow(10, -8+9*rng.Float64()) // 10 nm to 10 m
		corners := 3 + rng.IntN(8)
		var ring plane.Ring
		for k := range corners {
			s, c := math.Sincos((float64(k) + 0.8*rng.Float64()) * 2 * math.Pi / float64(corners))
			d := size * (0.1 + rng.Float64())
			ring = append(ring, plane.XY{X: 30 + d*c, Y: 20 + 0.05*d*s})
		}
		if ring.Area() > 0 {
			r.Layers.Double = append(r.Layers.Double, plane.Polygon{ring})
		}
	}
	return r
}

func writtenBytes(t *testing.T, write func(io.Writer) error) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := write(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}
