package read

import (
	"os"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"testing"

	"balk/testdata/check"

	shp "github.com/jonas-p/go-shp"
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
)

// Shapefiles of the mbostock/shapefile collection (BSD-3) with the GeoJSON that
// its tests want of them: geometry and attributes.
func TestShapefilesGiveTheirExpectedJSON(t *testing.T) {
	dir := check.Shared(t, "check", "shapefile", "mbostock")
	list, err := filepath.Glob(filepath.Join(dir, "*.json"))
	if err != nil || len(list) < 15 {
		t.Fatal(len(list), err)
	}
	for _, name := range list {
		name = strings.TrimSuffix(filepath.Base(name), ".json")
		t.Run(name, func(t *testing.T) {
			raw, err := os.ReadFile(filepath.Join(dir, name+".json"))
			if err != nil {
				t.Fatal(err)
			}
			want, err := geojson.UnmarshalFeatureCollection(raw)
			if err != nil {
				t.Fatal(err)
			}
			s, err := openShapes(os.DirFS(dir), name+".shp", name)
			if err != nil {
				t.Fatal(err)
			}
			defer s.close()
			notes := tally{file: name}
			got := map[int]orb.Geometry{}
			props := map[int]map[string]any{}
			if err := s.each(&notes, func(record int, shape shp.Shape) {
				got[record], props[record] = geometryOf(t, shape), propertiesOf(s)
			}); err != nil {
				t.Fatal(err)
			}
			if s.guard.records != len(want.Features) {
				t.Fatalf("%d records, want %d: %v", s.guard.records, len(want.Features), notes.findings())
			}
			for i, f := range want.Features {
				g, ok := got[i+1]
				if f.Geometry == nil {
					if ok {
						t.Errorf("record %d: %v, want none", i+1, g)
					}
					continue
				}
				if w := normal(t, f.Geometry); !orb.Equal(g, w) {
					t.Errorf("record %d: %v, want %v", i+1, g, w)
				}
				if len(f.Properties)+len(props[i+1]) > 0 && !reflect.DeepEqual(map[string]any(f.Properties), props[i+1]) {
					t.Errorf("record %d: %v, want %v", i+1, props[i+1], f.Properties)
				}
			}
		})
	}
}

// normal is a geometry as the reader hands it out: polygons with outer rings
// counter-clockwise, everything else as it is.
func normal(t *testing.T, g orb.Geometry) orb.Geometry {
	o := newOutline(1, "")
	switch g := g.(type) {
	case orb.Polygon:
		o.Parts, o.Rings = []int{0}, g
	case orb.MultiPolygon:
		for _, p := range g {
			o.Parts, o.Rings = append(o.Parts, len(o.Rings)), append(o.Rings, p...)
		}
	default:
		return g
	}
	m, _, err := o.Boundary(false)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func geometryOf(t *testing.T, s shp.Shape) orb.Geometry {
	lines := func(parts []int32, points []shp.Point) (m orb.MultiLineString) {
		for i, from := range parts {
			to := len(points)
			if i+1 < len(parts) {
				to = int(parts[i+1])
			}
			var l orb.LineString
			for _, p := range points[from:to] {
				l = append(l, orb.Point{p.X, p.Y})
			}
			m = append(m, l)
		}
		return m
	}
	switch s := s.(type) {
	case *shp.Point:
		return orb.Point{s.X, s.Y}
	case *shp.MultiPoint:
		return orb.MultiPoint(lines([]int32{0}, s.Points)[0])
	case *shp.PolyLine:
		m := lines(s.Parts, s.Points)
		if len(m) == 1 {
			return m[0]
		}
		return m
	case *shp.Polygon:
		o := newOutline(1, "")
		for _, l := range lines(s.Parts, s.Points) {
			o.Rings = append(o.Rings, orb.Ring(l))
		}
		m, _, err := o.Boundary(false)
		if err != nil {
			t.Fatal(err)
		}
		return m
	}
	t.Fatalf("a %T", s)
	return nil
}

// propertiesOf is the row at hand by its types, empty values left out.
func propertiesOf(s *shapes) map[string]any {
	out := map[string]any{}
	if s.table == nil || !s.row {
		return out
	}
	for i, f := range s.table.fields {
		v := s.table.value(i)
		if f.name == "FID" {
			continue // the collection wants these files as read without their .dbf, which has this column alone
		}
		switch f.kind {
		case 'N', 'F':
			if x, err := strconv.ParseFloat(v, 64); err == nil {
				out[f.name] = x
			}
		case 'L':
			if strings.Contains("TtYy", v) && v != "" {
				out[f.name] = true
			} else if strings.Contains("FfNn", v) && v != "" {
				out[f.name] = false
			}
		default:
			if v != "" {
				out[f.name] = v
			}
		}
	}
	return out
}

// Two shapefiles of the pyshp tests (MIT): one with bytes left over at its end,
// one with a column name in Latin-1.
func TestOddShapefilesLoad(t *testing.T) {
	dir := check.Shared(t, "check", "shapefile", "pyshp")
	tracks, findings, err := tracksOf(filepath.Join(dir, "corrupt_too_long.shp"))
	if err != nil || len(tracks) != 10 || len(findings) != 2 || !strings.Contains(findings[0].What, "5 bytes at byte 1140") {
		t.Errorf("%d tracks, %v, %v", len(tracks), findings, err)
	}
	fields, findings, err := Fields(filepath.Join(dir, "latin1.shp"), Options{})
	t.Log(len(fields), findings, err)
	if (err == nil) != (len(fields) == 1) {
		t.Errorf("%d fields, %v, %v", len(fields), findings, err)
	}
}
