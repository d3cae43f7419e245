package plane

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

func TestHull(t *testing.T) {
	for _, c := range []struct {
		name   string
		points []XY
		want   string
	}{
		{"nothing", nil, "[]"},
		{"a square with points on its edges and inside", []XY{{2, 2}, {0, 0}, {4, 0}, {2, 0}, {4, 4}, {0, 4}, {0, 2}, {4, 4}}, "[{0 0} {4 0} {4 4} {0 4}]"},
		{"an L", []XY{{0, 0}, {4, 0}, {4, 1}, {1, 1}, {1, 3}, {0, 3}}, "[{0 0} {4 0} {4 1} {1 3} {0 3}]"},
		{"points on a line", []XY{{0, 0}, {2, 2}, {1, 1}}, "[{0 0} {2 2}]"},
	} {
		if got := fmt.Sprint(Hull(c.points)); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
	seed := uint64(3)
	rng := rand.New(rand.NewPCG(seed, 0))
	pts := make([]XY, 200)
	for i := range pts {
		pts[i] = XY{rng.NormFloat64(), rng.NormFloat64()}
	}
	hull := Hull(pts)
	for i, a := range hull {
		for _, p := range pts {
			if hull[(i+1)%len(hull)].Sub(a).Cross(p.Sub(a)) < 0 {
				t.Fatalf("seed %d: %v lies outside of the hull", seed, p)
			}
		}
	}
}

// Along the long side, whichever way it lies; of directions as thin within rounding the first.
func TestThinnest(t *testing.T) {
	rectangle := func(w, h float64) []XY { return []XY{{0, 0}, {w, 0}, {w, h}, {0, h}} }
	for _, c := range []struct {
		name   string
		points []XY
		want   XY
	}{
		{"rectangle", rectangle(30, 10), XY{1, 0}},
		{"upright rectangle", rectangle(10, 30), XY{0, 1}},
		{"triangle, along its longest side", []XY{{0, 0}, {12, 0}, {0, 5}}, XY{-12.0 / 13, 5.0 / 13}},
		{"square", rectangle(10, 10), XY{1, 0}},
		{"square but for half a millimetre", rectangle(9.9995, 10), XY{1, 0}},
		{"square but for two millimetres", rectangle(9.998, 10), XY{0, 1}},
		{"one place twice", []XY{{3, 3}, {3, 3}}, XY{1, 0}},
		{"nothing", nil, XY{1, 0}},
	} {
		if got := Thinnest(c.points).Unit(); math.Abs(got.Cross(c.want)) > 1e-9 {
			t.Errorf("%s: %v, want %v or its opposite", c.name, got, c.want)
		}
	}
}
