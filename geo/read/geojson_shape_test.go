package read

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"balk/testdata/check"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
)

// outlineOf is what orb, the second opinion, has of polygons.
func outlineOf(o *outline, g orb.Geometry) {
	switch g := g.(type) {
	case orb.Polygon:
		if len(g) > 0 {
			o.Parts, o.Rings = append(o.Parts, len(o.Rings)), append(o.Rings, g...)
		}
	case orb.MultiPolygon:
		for _, p := range g {
			outlineOf(o, p)
		}
	case orb.Collection:
		for _, c := range g {
			outlineOf(o, c)
		}
	}
}

// sameAsOrb compares the rings and parts of a feature with those that orb reads.
func sameAsOrb(t *testing.T, raw []byte) {
	t.Helper()
	want := outline{}
	f, err := geojson.UnmarshalFeature(raw)
	if err != nil {
		t.Fatalf("%s: %v", raw, err)
	}
	outlineOf(&want, f.Geometry)
	got := outline{}
	s, err := scanFeature(raw, false, false)
	if err != nil {
		t.Fatalf("%s: %v", raw, err)
	}
	for i := range s.shapes {
		if err := s.shapes[i].fault(); err != nil {
			t.Fatalf("%s: %v", raw, err)
		}
		got.gather(&s.shapes[i])
	}
	if fmt.Sprint(got.Rings, got.Parts) != fmt.Sprint(want.Rings, want.Parts) {
		t.Errorf("%.200s:\n%v %v\nwant\n%v %v", raw, got.Rings, got.Parts, want.Rings, want.Parts)
	}
}

// The reader of features has the geometry that orb has, from real fields and from drawn ones.
func TestFeaturesAsOrbReadsThem(t *testing.T) {
	rnd := rand.New(rand.NewPCG(7, 12))
	var geometry func(depth int) string
	list := func(n int, one func() string) string {
		var all []string
		for range n {
			all = append(all, one())
		}
		return "[" + strings.Join(all, ", ") + "]"
	}
	position := func() string {
		if rnd.IntN(4) == 0 {
			return fmt.Sprintf("[%g,%g,%g]", rnd.Float64(), -rnd.Float64(), rnd.Float64())
		}
		return fmt.Sprintf("[%g, %d]", rnd.Float64(), rnd.IntN(90))
	}
	line := func() string { return list(1+rnd.IntN(5), position) }
	polygon := func() string { return list(1+rnd.IntN(3), line) }
	geometry = func(depth int) string {
		kinds := []string{
			`{"type":"Polygon","coordinates":` + polygon() + `}`,
			`{"coordinates":` + list(1+rnd.IntN(3), polygon) + `,"type":"MultiPolygon"}`,
			`{"type":"LineString","coordinates":` + line() + `}`,
			`{"type":"Point","coordinates":` + position() + `}`,
			`{"type":"MultiLineString","bbox":[1,2],"coordinates":` + polygon() + `}`,
		}
		if depth < 3 && rnd.IntN(3) == 0 {
			return `{"type":"GeometryCollection","geometries":` + list(1+rnd.IntN(3), func() string { return geometry(depth + 1) }) + `}`
		}
		return kinds[rnd.IntN(len(kinds))]
	}
	for range 500 {
		sameAsOrb(t, []byte(`{"type":"Feature","properties":{"name":"a","x":[1,{"y":2}]},"geometry":`+geometry(0)+`,"id":7}`))
	}
	text, err := os.ReadFile(check.Shared(t, "open", "fields_permissive.geojson"))
	if err != nil {
		t.Fatal(err)
	}
	var collection struct{ Features []json.RawMessage }
	if err := json.Unmarshal(text, &collection); err != nil || len(collection.Features) < 10 {
		t.Fatal(len(collection.Features), err)
	}
	for _, raw := range collection.Features {
		sameAsOrb(t, raw)
	}
}

// What is wrong with a feature is said; orb takes some of these for a place at 0, 0.
func TestFeaturesThatAreWrong(t *testing.T) {
	for geometry, want := range map[string]string{
		`{"type":"Polygon","coordinates":[[11,48],[12,48],[12,49],[11,48]]}`:        "a Polygon with positions in 2 lists in each other: 3 are wanted",
		`{"type":"MultiPolygon","coordinates":[[[11,48],[12,48],[12,49],[11,48]]]}`: "a MultiPolygon with positions in 3 lists in each other: 4 are wanted",
		`{"type":"Polygon"}`: "a Polygon without coordinates",
		`{"type":"Square","coordinates":[[[11,48],[12,48],[12,49],[11,48]]]}`:           `a geometry of the type "Square"`,
		`{"type":"Polygon","coordinates":[[[11,48],[],[12,49],[11,48]]]}`:               "a position of 0 numbers: longitude and latitude are wanted",
		`{"type":"Polygon","coordinates":[[[11,48],[12],[12,49],[11,48]]]}`:             "a position of 1 numbers: longitude and latitude are wanted",
		`{"type":"Polygon","coordinates":[[[11,48],[12,null],[12,49],[11,48]]]}`:        "'n' among coordinates",
		`{"type":"Polygon","coordinates":[[[11,48],[[12,48]],[12,49],[11,48]]]}`:        "positions in lists of different depth",
		`{"type":"Polygon","coordinates":[[[[11,48]],[12,48],[12,49],[11,48]]]}`:        "positions in lists of different depth",
		`{"type":"Polygon","coordinates":[[[11,48],[12,[48]],[12,49],[11,48]]]}`:        "a position of 1 numbers: longitude and latitude are wanted",
		`{"type":"Polygon","coordinates":[[[[]]]]}`:                                     "a Polygon with positions in 4 lists in each other: 3 are wanted",
		`{"type":"Polygon","crs":{},"coordinates":[[[11,48],[12,48],[12,49],[11,48]]]}`: "a crs inside a feature or geometry: only one for the whole file is read",
		`{"type":"GeometryCollection","geometries":{}}`:                                 "geometries that are no list",
	} {
		_, findings, err := GeoJSONFields(strings.NewReader(`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{},"geometry":`+geometry+`}]}`), "f", Options{})
		if err == nil || !strings.Contains(err.Error(), want) || findings != nil {
			t.Errorf("%s: %v, want %q", geometry, err, want)
		}
	}
}
