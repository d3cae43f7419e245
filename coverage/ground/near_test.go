package ground

import (
	"math"
	"math/rand/v2"
	"testing"

	"balk/geo/plane"
)

// What a crowd of quads on one spot leaves to one more is the same whether they are cut off beside it or not.
func TestNear(t *testing.T) {
	seed := rand.Uint64()
	rng := rand.New(rand.NewPCG(seed, 12))
	// quads of a bar of 6 m that swings, narrow, some backwards, and strips of several of them
	strip := func(lane, steps int) []plane.Outline {
		at, heading := plane.XY{X: 8 * rng.Float64(), Y: 8 * rng.Float64()}, 2*math.Pi*rng.Float64()
		var bars []bar
		for range steps + 1 {
			sin, cos := math.Sincos(heading)
			bars = append(bars, bar{left: plane.Snap(plane.XY{X: at.X - 3*sin, Y: at.Y + 3*cos}), right: plane.Snap(plane.XY{X: at.X + 3*sin, Y: at.Y - 3*cos})})
			at, heading = at.Add(plane.XY{X: 0.4 * cos, Y: 0.4 * sin}), heading+0.2*(rng.Float64()-0.5)
		}
		if steps > 1 {
			return []plane.Outline{{Line: outline(bars), Lane: lane}}
		}
		var out []plane.Outline
		for _, p := range pieces(quad(bars, 0)) {
			out = append(out, plane.Outline{Line: p, Lane: lane})
		}
		return out
	}
	left := 0
	for round := range 30 {
		set := strip(0, 1)
		for range 3 + rng.IntN(20) {
			set = append(set, strip(1, 1+3*rng.IntN(2))...)
		}
		var area [2]float64
		for k, set := range [2][]plane.Outline{set, near(set)} {
			rings, err := plane.Trace(t.Context(), set, func(l plane.Label) bool { return l.Count(0) > 0 && l.Count(1) <= 0 })
			if err != nil {
				t.Fatalf("seed %d: %v", seed, err)
			}
			for _, r := range rings {
				area[k] += r.Area()
			}
		}
		if math.Abs(area[0]-area[1]) > 1e-6 {
			t.Errorf("seed %d round %d: %.9f m² are left, and %.9f m² by what lies near", seed, round, area[0], area[1])
		}
		if area[0] > 0.01 {
			left++
		}
	}
	if left < 5 {
		t.Errorf("seed %d: ground was left in %d rounds: too few to say anything", seed, left)
	}
}
