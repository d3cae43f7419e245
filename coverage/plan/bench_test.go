package plan

import (
	"fmt"
	"testing"

	"balk/coverage/rig"
	"balk/geo/plane"
)

// twentyHectares is a field of 20 ha with an obstacle and a reflex corner.
var twentyHectares = []plane.Polygon{{
	{{X: 0, Y: 0}, {X: 560, Y: 20}, {X: 580, Y: 300}, {X: 330, Y: 310}, {X: 310, Y: 450}, {X: 30, Y: 430}},
	hole(200, 200, 215, 230),
}}

var benchWidths = []float64{4, 6, 8, 12}

// BenchmarkBest is one width on 20 ha: about 300 directions, three of them laid out, one
// simulated.
func BenchmarkBest(b *testing.B) {
	for _, w := range benchWidths {
		b.Run(fmt.Sprintf("width=%g", w), func(b *testing.B) {
			for b.Loop() {
				f, err := Best(b.Context(), twentyHectares, mounted(w), Options{Speed: 8}, Objective{})
				if err != nil || f.Candidate.Passes < 20 {
					b.Fatalf("%d passes, %v", f.Candidate.Passes, err)
				}
			}
		})
	}
}

// BenchmarkCompare is four widths with all that is asked about each.
func BenchmarkCompare(b *testing.B) {
	var ims []rig.Implement
	for _, w := range benchWidths {
		ims = append(ims, mounted(w))
	}
	for b.Loop() {
		got, err := Compare(b.Context(), twentyHectares, ims, Options{Speed: 8}, Objective{})
		if err != nil || got[0].Candidate.Width != 12 {
			b.Fatalf("%v m, %v", got[0].Candidate.Width, err)
		}
	}
}

// BenchmarkEstimate is one direction.
func BenchmarkEstimate(b *testing.B) {
	s, err := surveyOf(b.Context(), twentyHectares, mounted(6), Options{Speed: 8})
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if passes := s.estimate(choice{heading: 0.1}, Objective{}, false).Passes; passes < 40 {
			b.Fatalf("%d passes", passes)
		}
	}
}
