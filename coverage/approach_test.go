package coverage

import (
	"math"
	"math/rand/v2"
	"testing"

	"balk/coverage/drive"
	"balk/geo/plane"
	"balk/testdata/check"
	"balk/testdata/trial"
)

// From any place, near the passes or far off, the approach is along the nearest side of those asked for, as looking at all of them one by one finds it.
func TestApproachIsTheNearest(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 31))
	var runs []drive.Run
	for k := range 40 {
		from := plane.XY{X: 60 * rng.NormFloat64(), Y: 60 * rng.NormFloat64()}
		line := trial.Straight(from, from.Add(plane.XY{X: 10 * rng.NormFloat64(), Y: 10 * rng.NormFloat64()}), 2)
		one := drive.Along(line, 5, 0)
		one.Pass.Number = k + 1
		runs = append(runs, one)
	}
	around := surroundingsOf(runs, nil, drive.Work{Width: 5})
	for range 2000 {
		far := math.Exp(7 * rng.Float64()) // m, 1 to 1,100
		at := plane.XY{X: far * rng.NormFloat64(), Y: far * rng.NormFloat64()}
		passes := rng.Perm(len(runs))[:2+rng.IntN(4)]
		nearest := math.Inf(1)
		for i := range passes {
			one := runs[passes[i]]
			passes[i] = one.Pass.Number
			for k := 1; k < len(one.Stops); k++ {
				nearest = min(nearest, plane.Segment{A: one.Stops[k-1].At, B: one.Stops[k].At}.Dist(at))
			}
		}
		if got := around.approach(at, passes); math.Abs(got.Aside-nearest) > 1e-9*(1+nearest) {
			t.Fatalf("seed %d: from %v pass %d at %.9f m, the nearest of %v lies at %.9f m", seed, at, got.Pass, got.Aside, passes, nearest)
		}
	}
}
