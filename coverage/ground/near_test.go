package ground

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/geo/plane"
)

// What a crowd of quads on one spot leaves to one more is the same whether they are cut off beside it or not, and whether they are taken
// at once or some at a time.
func TestNear(t *testing.T) {
	const seed = 1 // of most seeds the crowd leaves some ground
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
	var left [2]int
	for round := range 30 {
		set, many, crowd := strip(0, 1), 3+rng.IntN(20), round%3
		if crowd == 0 {
			set, many = strip(0, 8), 6*crowded // some of them far from it
		}
		for range many {
			set = append(set, strip(1, 1+3*rng.IntN(2))...)
		}
		if crowd == 0 { // a hole, and a rest in the middle of the crowd
			set = slices.DeleteFunc(set, func(o plane.Outline) bool {
				return o.Lane == 1 && slices.ContainsFunc(o.Line, func(p plane.XY) bool { return math.Hypot(p.X-4, p.Y-4) < 2 })
			})
		}
		rings, err := plane.Trace(t.Context(), set, first)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		want := 0.0
		for _, r := range rings {
			want += r.Area()
		}
		var got swath
		if crowd != 0 {
			own, others := near(set)
			set = append(own, others...)
		}
		if err := got.addFirst(t.Context(), set); err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		got.measure()
		if math.Abs(got.area-want) > 1e-6 {
			t.Errorf("seed %d round %d: %.9f m² are left, and %.9f m² by what lies near", seed, round, want, got.area)
		}
		if want > 0.01 {
			left[min(crowd, 1)]++
		}
		if crowd == 0 && len(set) < crowded {
			t.Errorf("seed %d round %d: %d outlines are no crowd", seed, round, len(set))
		}
	}
	if left[0] < 1 || left[1] < 5 {
		t.Errorf("seed %d: ground was left in %d rounds: too few to say anything", seed, left)
	}
}

// Outlines of a place driven over and over are made few, whose ground is the same and counts once each, with holes and all.
func TestMerged(t *testing.T) {
	rng := rand.New(rand.NewPCG(14, 1))
	for _, c := range []struct{ quads, most int }{{15, 30}, {300, 200}, {1000, 500}} {
		var some []plane.Outline
		for i := range c.quads { // a bar that swings, round and round a spot that it leaves free
			sin, cos := math.Sincos(float64(i) / 50)
			at := plane.XY{X: 6*cos + 0.1*rng.NormFloat64(), Y: 6*sin + 0.1*rng.NormFloat64()}
			bars := make([]bar, 2)
			for k := range bars {
				across := plane.XY{X: cos, Y: sin}.Add(plane.XY{X: 0.3 * rng.NormFloat64(), Y: 0.3 * rng.NormFloat64()}).Scale(2.5)
				bars[k] = bar{left: plane.Snap(at.Sub(across)), right: plane.Snap(at.Add(across))}
			}
			for _, p := range pieces(quad(bars, 0)) {
				some = append(some, plane.Outline{Line: p, Lane: 1})
			}
		}
		few, err := merged(t.Context(), some)
		if err != nil {
			t.Fatal(err)
		}
		var area [2]float64
		for k, outlines := range [2][]plane.Outline{some, few} {
			got, err := plane.Arrange(t.Context(), outlines, plane.Question{Workers: 1, Classify: func(l plane.Label) plane.Class {
				return plane.Class(max(0, min(l.Count(1), 1)))
			}})
			if err != nil {
				t.Fatal(err)
			}
			area[k] = got.Area[1]
		}
		if math.Abs(area[0]-area[1]) > 1e-5 || area[0] < 5 {
			t.Errorf("%d quads: %.9f m² in all, %.9f m² by the merged ones", c.quads, area[0], area[1])
		}
		if len(few) > c.most {
			t.Errorf("%d quads: %d outlines were made %d", c.quads, len(some), len(few))
		}
	}
}
