package drive

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/geo/plane"
	"balk/testdata/trial"
)

// TestZones holds the signed distance against one worked out the slow way, and
// the memory of the last place against a fresh look, on a field of two parts
// that share an edge, one with an obstacle.
func TestZones(t *testing.T) {
	const seed = 3
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 1))
	hole := plane.Ring(trial.Rectangle(30, 20, 45, 40))
	slices.Reverse(hole)
	field := []plane.Polygon{
		{{{X: 0, Y: 0}, {X: 100, Y: 0}, {X: 100, Y: 60}, {X: 60, Y: 60}, {X: 50, Y: 35}, {X: 40, Y: 80}, {X: 0, Y: 80}}, hole},
		{{{X: 100, Y: 0}, {X: 140, Y: -10}, {X: 130, Y: 70}, {X: 100, Y: 60}}},
	}
	w := Work{Width: 6, Headland: 8}
	s := sceneOf(field, w)
	p := plane.XY{X: 50, Y: 10}
	seen := map[zone]int{}
	for range 20000 {
		if p = p.Add(plane.XY{X: 6 * rng.NormFloat64(), Y: 6 * rng.NormFloat64()}); p.Len() > 250 {
			p = plane.XY{X: 140 * rng.Float64(), Y: 80 * rng.Float64()}
		}
		want, in := math.Inf(1), false
		for _, poly := range field {
			in = in || trial.Winding(poly[0], p) != 0 && !slices.ContainsFunc(poly[1:], func(hole plane.Ring) bool { return trial.Winding(hole, p) != 0 })
			for _, r := range poly {
				for i, a := range r {
					want = min(want, plane.Segment{A: a, B: r[(i+1)%len(r)]}.Dist(p))
				}
			}
		}
		if !in {
			want = -want
		}
		if got := sceneOf(field, w).inside(p); math.Abs(got-want) > 1e-9 {
			t.Fatalf("%v is %g m inside, want %g", p, got, want)
		}
		zone := zoneAway
		for i := len(s.limits) - 1; i >= 0 && want >= s.limits[i]; i-- {
			zone--
		}
		if got := s.at(p); got != zone {
			t.Fatalf("%v (%g m inside) is in zone %d, want %d", p, want, got, zone)
		}
		seen[zone]++
	}
	for z := zoneCore; z <= zoneAway; z++ {
		if seen[z] < 100 {
			t.Errorf("zone %d: only %d places", z, seen[z])
		}
	}
}
