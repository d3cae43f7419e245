package sweeps

import (
	"math"
	"testing"

	"balk/coverage/rig"
	"balk/geo/plane"
)

// On half a circle of 20 m about a centre on the left a sweep y to the left of the middle goes π·(20 − y), one behind the middle, x, π·√((20 − y)² + x²)
// (closed form); sweeps that are lifted, and steps that are no work, do not count.
func TestCuttingOnHalfACircle(t *testing.T) {
	f := Of(rig.Layout{Count: 6, Spacing: 1, Width: 1.1, Beams: []float64{0, 3}}, false)
	const radius = 20.0
	var places []Place
	var motions []Motion
	for k := range 181 {
		a := float64(k) * math.Pi / 180
		sin, cos := math.Sincos(a)
		places = append(places, Place{At: plane.XY{X: radius * cos, Y: radius * sin}, Ahead: plane.XY{X: -sin, Y: cos}, S: radius * a, Right: -3.2, Left: 3.2, Goes: k < 180})
		motions = append(motions, Motion{Curvature: 1 / radius})
	}
	for i, m := range f.Cutting(places, motions) {
		y, x := 2.5-float64(i), 3*float64(i%2)
		if want := math.Pi * math.Hypot(radius-y, x); math.Abs(m-want) > 1e-9*want {
			t.Errorf("sweep %d: %.6f m, want %.6f", i+1, m, want)
		}
	}
	for k := range places {
		places[k].Left = 0      // the left half is lifted
		places[k].Goes = k < 90 // and the second half of the way is no work
	}
	for i, m := range f.Cutting(places, motions) {
		y, x := 2.5-float64(i), 3*float64(i%2)
		want := math.Pi / 2 * math.Hypot(radius-y, x)
		if i < 3 {
			want = 0
		}
		if math.Abs(m-want) > 1e-9 {
			t.Errorf("sweep %d, half of it: %.6f m, want %.6f", i+1, m, want)
		}
	}
	if got := f.Cutting(nil, nil); len(got) != 6 || got[0] != 0 {
		t.Error(got)
	}
}

// The quick look says closed where the laps of neighbours say so, and to neither side otherwise: in a curve of either side, crabbed to either.
func TestQuickLookAgreesWithLaps(t *testing.T) {
	f := Of(rig.Layout{Count: 9, Spacing: 0.25, Width: 0.3, Beams: []float64{-0.9, 0.4, 1.1}, Order: []int{1, 3, 2}}, false)
	sure := f.sure()
	seen := map[bool]int{}
	for _, crab := range []float64{-0.05, -0.02, 0, 0.02, 0.05} {
		for _, curvature := range []float64{-0.1, -0.03, -0.01, 0, 0.01, 0.03, 0.1} {
			m := Motion{Crab: crab, Curvature: curvature}
			thin, ok := f.Thinnest(m)
			if open := ok && thin.Lap < -1e-4; open && sure.closed(m) {
				t.Errorf("crab %g, curvature %g: closed by a quick look, and %.4f m are open", crab, curvature, -thin.Lap)
			} else {
				seen[open]++
			}
			if ok && thin.Lap > 1e-3 && !sure.closed(m) {
				t.Errorf("crab %g, curvature %g: open by a quick look, and all laps are %.4f m or more", crab, curvature, thin.Lap)
			}
		}
	}
	if seen[true] < 5 || seen[false] < 5 {
		t.Error(seen)
	}
}
