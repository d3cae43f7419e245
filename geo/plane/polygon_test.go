package plane

import (
	"math"
	"testing"
)

// TestNearest: the place itself in the ground, else one on a ring, as far away as distances say.
func TestNearest(t *testing.T) {
	holed := Polygon{rectangle(0, 0, 30, 30)[0], backwards(rectangle(10, 10, 20, 20)[0])}
	polys := []Polygon{holed, rectangle(50, 0, 60, 10)}
	for _, c := range []struct {
		name     string
		p, want  XY
		distance float64
	}{
		{"in the ground", XY{5, 5}, XY{5, 5}, 0},
		{"in the other polygon", XY{55, 5}, XY{55, 5}, 0},
		{"in a hole", XY{15, 12}, XY{15, 10}, 2},
		{"outside, beside a side", XY{-4, 7}, XY{0, 7}, 4},
		{"outside, off a corner", XY{33, 34}, XY{30, 30}, 5},
		{"between two", XY{42, 5}, XY{50, 5}, 8},
	} {
		got := Nearest(polys, c.p)
		if got != c.want || math.Abs(got.Dist(c.p)-c.distance) > 1e-12 {
			t.Errorf("%s: %v, %g m away, want %v, %g m", c.name, got, got.Dist(c.p), c.want, c.distance)
		}
		if in := holed.Holds(c.p); in != insideSlow(holed, c.p) {
			t.Errorf("%s: held by the first: %t", c.name, in)
		}
	}
}
