package plane

import (
	"errors"
	"math/rand/v2"
	"testing"
)

// A line that goes to and fro on one spot is refused before it fills the memory,
// whatever the number of workers; the same line spread out is not.
func TestTangledOutlinesAreRefused(t *testing.T) {
	seed := uint64(7)
	t.Logf("seed %d", seed)
	line := func(n int, spread float64) []Outline {
		rng := rand.New(rand.NewPCG(seed, 1))
		ring := make([]XY, n)
		for i := range ring {
			ring[i] = Snap(XY{X: spread * float64(i), Y: 0}.Add(XY{X: rng.Float64(), Y: rng.Float64()}))
		}
		return []Outline{{Line: ring}}
	}
	question := func(workers int) Question {
		return Question{Workers: workers, Classify: func(l Label) Class {
			if l.Count(0) > 0 {
				return 1
			}
			return 0
		}}
	}
	for _, workers := range []int{1, 2} {
		if _, err := Arrange(t.Context(), line(6000, 0), question(workers)); !errors.Is(err, ErrTangled) {
			t.Errorf("%d workers: 6000 edges on one spot: %v", workers, err)
		}
		if _, err := Arrange(t.Context(), line(6000, 0.5), question(workers)); err != nil {
			t.Errorf("%d workers: spread out: %v", workers, err)
		}
	}
}
