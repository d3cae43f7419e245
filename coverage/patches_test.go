package coverage

import (
	"math"
	"slices"
	"testing"

	"balk/geo/plane"
)

// What was missed in patches is the ground that both have: a strip of 10 m by 1 m of which a patch holds 4 m has 4 m² there; a patch beside it,
// or one that only touches it, none.
func TestLookInPatches(t *testing.T) {
	rect := func(x0, y0, x1, y1 float64) plane.Polygon {
		return plane.Polygon{{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}}
	}
	strips := []Strip{{Number: 1, Shape: rect(0, 0, 10, 1)}, {Number: 2, Shape: rect(0, 5, 10, 6)}, {Number: 3, Shape: rect(50, 0, 60, 1)}}
	for name, c := range map[string]struct {
		patches []plane.Polygon
		missed  float64
		in      []int
	}{
		"none there":            {[]plane.Polygon{rect(20, 0, 30, 10)}, 0, []int{}},
		"one part":              {[]plane.Polygon{rect(6, -5, 40, 3)}, 4, []int{1}},
		"touching":              {[]plane.Polygon{rect(0, 1, 10, 5)}, 0, []int{}},
		"two, the larger first": {[]plane.Polygon{rect(6, -5, 20, 3), rect(2, 4, 20, 8)}, 12, []int{2, 1}},
		"all":                   {[]plane.Polygon{rect(-5, -5, 100, 10)}, 30, []int{1, 2, 3}},
	} {
		r := Result{Strips: strips}
		if err := r.LookIn(t.Context(), c.patches); err != nil {
			t.Fatal(err)
		}
		if math.Abs(r.Patches.Missed-c.missed) > 1e-6 || !slices.Equal(r.Patches.Strips, c.in) {
			t.Errorf("%s: %+v, want %g m² in %v", name, *r.Patches, c.missed, c.in)
		}
	}
}
