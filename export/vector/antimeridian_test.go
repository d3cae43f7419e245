package vector

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"testing"

	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
)

// RFC 7946, 3.1.9, has the line from 45° N, 170° E across the antimeridian to 45° N, 170° W as two that meet on it.
func TestLinesAcrossTheAntimeridian(t *testing.T) {
	line := orb.LineString{{170, 45}, {-170, 45}}
	want := orb.MultiLineString{{{170, 45}, {180, 45}}, {{-180, 45}, {-170, 45}}}
	if got := Halved(line); !orb.Equal(got, want) {
		t.Errorf("%v, want %v as RFC 7946 has it", got, want)
	}
	there := orb.LineString{{179, 1}, {-179, 2}, {-178, 2}, {179, 5}}
	want = orb.MultiLineString{{{179, 1}, {180, 1.5}}, {{-180, 1.5}, {-179, 2}, {-178, 2}, {-180, 4}}, {{180, 4}, {179, 5}}}
	if got := Halved(there); !orb.Equal(got, want) {
		t.Errorf("there and back %v, want %v", got, want)
	}
	for _, whole := range []orb.LineString{{{179, 1}, {180, 1}}, {{-180, 1}, {-179, 1}}, {{-1, 1}, {1, 1}}} {
		if got := Halved(whole); !orb.Equal(got, whole) {
			t.Errorf("%v became %v", whole, got)
		}
	}
}

// Polygons across it become parts that lie on one side each, closed and turned as RFC 7946 wants, which together are the ground that
// it was, hole and all.
func TestAreasAcrossTheAntimeridian(t *testing.T) {
	ring := func(flat ...float64) (r plane.Ring) {
		for i := 0; i < len(flat); i += 2 {
			r = append(r, plane.XY{X: flat[i], Y: flat[i+1]})
		}
		return r
	}
	comb := ring(-50, 0, 60, 0, 60, 10, -20, 10, -20, 20, 60, 20, 60, 30, -50, 30)
	for name, c := range map[string]struct {
		area  plane.Polygon
		parts int
	}{
		"a square":             {plane.Polygon{ring(-50, -50, 50, -50, 50, 50, -50, 50)}, 2},
		"a square with a hole": {plane.Polygon{ring(-50, -50, 50, -50, 50, 50, -50, 50), ring(-10, -10, -10, 10, 10, 10, 10, -10)}, 2},
		"a comb":               {plane.Polygon{comb}, 3},
		"west of it":           {plane.Polygon{ring(-50, 0, -10, 0, -10, 10)}, 1},
	} {
		for _, centre := range []orb.Point{{180, -17}, {-180, 66}, {179.9999, 0}, {-179.9999, 71}} {
			local := geo.LocalAt(centre)
			var s rounding
			got := s.geometry(Areas, shape{local: &local, area: c.area})
			parts, _ := manyOf(got).(orb.MultiPolygon)
			if s.fault != nil || len(parts) != c.parts {
				t.Errorf("%s at %v: %v, %v; want %d parts", name, centre, got, s.fault, c.parts)
				continue
			}
			var back []plane.Polygon
			for _, part := range parts {
				if b := part.Bound(); b.Max[0]-b.Min[0] > 1 {
					t.Errorf("%s at %v: a part from %v to %v", name, centre, b.Min, b.Max)
				}
				if err := checkRings(part); err != nil {
					t.Errorf("%s at %v: %v", name, centre, err)
				}
				back = append(back, geo.Field{Boundary: orb.MultiPolygon{part}}.OnPlane(local)...)
			}
			a, b, both, err := plane.Shared(context.Background(), back, []plane.Polygon{c.area})
			if err != nil || a+b > 1e-3*both {
				t.Errorf("%s at %v: %g m² too much, %g m² too little, %g m² right, %v", name, centre, a, b, both, err)
			}
		}
	}
}

// A whole result across it, layer by layer: each is written, its areas are those of the same farm elsewhere, and its bounding box goes from
// west to east across it (RFC 7946, 5.2).
func TestResultAcrossTheAntimeridian(t *testing.T) {
	r := farm()
	r.Local = geo.LocalAt(orb.Point{180, 48.14})
	field := shape{local: &r.Local, area: r.Layers.Field[0]}
	halves, err := field.halved()
	if err != nil {
		t.Fatal(err)
	}
	r.Field.Boundary = halves.degrees.(orb.MultiPolygon)
	layers, err := LayersOf(r)
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range layers {
		var out bytes.Buffer
		if err := Write(&out, l.Name, r); err != nil {
			t.Fatal(l.Name, err)
		}
		for _, w := range writers() {
			if len(l.Features) > 0 && l.Name != "field" && w.name != "ISO 11783-10" && w.name != "GPX" {
				if err := w.write(t.TempDir(), l, &bytes.Buffer{}); err != nil {
					t.Errorf("%s as %s: %v", l.Name, w.name, err)
				}
			}
		}
		read, err := geojson.UnmarshalFeatureCollection(out.Bytes())
		if err != nil {
			t.Fatal(l.Name, err)
		}
		sides := map[bool]int{}
		for _, f := range read.Features {
			switch g := manyOf(f.Geometry).(type) {
			case orb.MultiPolygon:
				for _, p := range g {
					sides[p.Bound().Min[0] > 0]++
					if b := p.Bound(); b.Max[0]-b.Min[0] > 1 {
						t.Errorf("%s: a part from %v to %v", l.Name, b.Min, b.Max)
					}
				}
			case orb.MultiLineString:
				for _, p := range g {
					sides[p.Bound().Min[0] > 0]++
				}
			}
		}
		var head struct{ BBox []float64 }
		if err := json.Unmarshal(out.Bytes(), &head); err != nil {
			t.Fatal(err)
		}
		if sides[true] > 0 && sides[false] > 0 && !(head.BBox[0] > 179.99 && head.BBox[2] < -179.99) {
			t.Errorf("%s: the bounding box is %v", l.Name, head.BBox)
		}
		if l.Name == "field" || l.Name == "missed" || l.Name == "passes" {
			if len(sides) != 2 {
				t.Errorf("%s lies on one side only: %v", l.Name, sides)
			}
		}
	}
	if a := math.Abs(r.Layers.Field[0].Area() - 9900); a > 1e-6 {
		t.Errorf("the farm is another: %g m² off", a)
	}
}
