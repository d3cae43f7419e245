package coverage

import (
	"math"
	"slices"
	"testing"

	"balk/geo/plane"
)

// TestCutsAscend: below and above every corner the places of the cut ascend, and are those of each ring asked alone. The sides to the
// right begin lower than those to the left.
func TestCutsAscend(t *testing.T) {
	p := plane.Polygon{
		{{X: 5}, {X: 9, Y: 4}, {X: 10, Y: 10}, {X: 6, Y: 7}, {X: 2, Y: 10}, {Y: 3}},
		{{X: 6, Y: 3}, {X: 4, Y: 4}, {X: 5, Y: 5}, {X: 7, Y: 4}},
	}
	var heights []float64
	sweep(p, func(y float64, cuts []float64) {
		above := len(heights)%2 == 1
		heights = append(heights, y)
		if want := cutsBeside(nil, p, y, above); !slices.IsSorted(cuts) || !slices.EqualFunc(cuts, want, func(a, b float64) bool { return math.Abs(a-b) < 1e-12 }) {
			t.Errorf("height %g, above %v: cut at %v, want %v", y, above, cuts, want)
		}
	})
	if want := []float64{0, 3, 4, 5, 7, 10}; !slices.Equal(slices.Compact(heights), want) {
		t.Errorf("heights %v, want %v", heights, want)
	}
}
