package ground

import (
	"math/rand/v2"
	"testing"

	"balk/geo/plane"
	"balk/testdata/check"
)

// Two bars say of the ground between them what its quad does, corner by corner: ahead, back, swinging, crossing, with ends that stand still.
func TestAdvances(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 1))
	var told [2]int
	for range 20_000 {
		place := func() plane.XY { // few places, so that ends and sides often coincide
			return plane.XY{X: float64(rng.IntN(5)), Y: float64(rng.IntN(5))}
		}
		bars := []bar{{left: place(), right: place()}, {left: place(), right: place()}}
		want := advancing(quad(bars, 0))
		if got := advances(&bars[0], &bars[1]); got != want {
			t.Fatalf("seed %d: bars %+v: %t, want %t", seed, bars, got, want)
		}
		if want {
			told[0]++
		} else {
			told[1]++
		}
	}
	if min(told[0], told[1]) < 100 {
		t.Errorf("seed %d: %d advance and %d do not: too few to say anything", seed, told[0], told[1])
	}
}
