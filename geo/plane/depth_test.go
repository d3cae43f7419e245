package plane

import (
	"math"
	"math/rand/v2"
	"testing"

	"balk/testdata/check"
)

// Depth is what the classes give where they tell all depths apart, also where outlines that run backwards take ground away, and
// goes on where there are more depths than classes.
func TestDepth(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 11))
	below := 0.0
	for round := range 60 {
		var outlines []Outline
		for range 2 + rng.IntN(9) {
			var line []XY
			for range 3 + rng.IntN(5) {
				line = append(line, XY{float64(rng.IntN(21)), float64(rng.IntN(21))})
			}
			outlines = append(outlines, Outline{Line: line, Lane: rng.IntN(2)})
		}
		for lane := range 2 {
			got, err := Arrange(t.Context(), outlines, Question{Classify: func(l Label) Class {
				if l.Count(lane) < 0 {
					return 15
				}
				return Class(min(l.Count(lane), 14))
			}})
			if err != nil {
				t.Fatalf("seed %d: %v", seed, err)
			}
			below += got.Area[15]
			want := 0.0
			for c := 1; c < 15; c++ {
				want += float64(c) * got.Area[c]
			}
			if math.Abs(got.Depth[lane]-want) > 1e-6 {
				t.Errorf("seed %d round %d lane %d: %.9f m², by classes %.9f m²", seed, round, lane, got.Depth[lane], want)
			}
		}
	}
	if below == 0 {
		t.Errorf("seed %d: no ground is covered less than no time", seed)
	}
	var stack []Outline
	want := 0.0
	for k := range 40 {
		r := rectangle(0, 0, 10+float64(k), 10)[0]
		want += r.Area()
		stack = append(stack, Outline{Line: r})
	}
	got, err := Arrange(t.Context(), stack, Question{Classify: func(l Label) Class { return Class(min(l.Count(0), 1)) }})
	if err != nil || math.Abs(got.Depth[0]-want) > 1e-6 {
		t.Errorf("40 rectangles on top of each other: %.9f m², want %.9f m²: %v", got.Depth[0], want, err)
	}
}
