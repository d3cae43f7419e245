package read

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/check"

	"github.com/paulmach/orb"
)

// hectares is the area of a boundary in its own plane.
func hectares(m orb.MultiPolygon) float64 {
	l := geo.LocalAt(m.Bound().Center())
	var sum float64
	for _, poly := range m {
		for _, r := range poly {
			var flat plane.Ring
			for _, p := range r[:len(r)-1] {
				flat = append(flat, l.XY(p))
			}
			sum += flat.Area()
		}
	}
	return sum / 1e4
}

// 157 fields of open registers, with the areas their file gives (see
// open/SOURCES.md for origin and licences).
func TestOpenFieldsHaveTheirAreas(t *testing.T) {
	path := check.Shared(t, "open", "fields_permissive.geojson")
	raw, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var want struct {
		Features []struct {
			Properties struct {
				ID     string  `json:"id"`
				Area   float64 `json:"area_ha"`
				Holes  int     `json:"holes"`
				Parts  int     `json:"parts"`
				Valid  bool    `json:"valid"`
				Corner int     `json:"vertices"`
			}
		}
	}
	if err := json.Unmarshal(raw, &want); err != nil {
		t.Fatal(err)
	}
	fields, findings, err := Fields(path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range findings {
		t.Log(f)
	}
	if len(fields) != 157 || len(want.Features) != 157 {
		t.Fatalf("%d fields of %d features, want 157", len(fields), len(want.Features))
	}
	for i, f := range fields {
		w := want.Features[i].Properties
		if f.Name != w.ID || f.Number != i+1 || f.Source != path {
			t.Errorf("field %d is %q, number %d, from %q; want %q", i, f.Name, f.Number, f.Source, w.ID)
		}
		holes := 0
		for _, p := range f.Boundary {
			holes += len(p) - 1
		}
		if holes != w.Holes || len(f.Boundary) != w.Parts {
			t.Errorf("%s: %d parts, %d holes, want %d and %d", w.ID, len(f.Boundary), holes, w.Parts, w.Holes)
		}
		if got := hectares(f.Boundary); math.Abs(got-w.Area) > 1e-3*w.Area {
			t.Errorf("%s: %.4f ha, want %.4f", w.ID, got, w.Area)
		}
	}
}
