package plane

import (
	"fmt"
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
