package plan

import (
	"math"
	"testing"

	"balk/coverage/rig"
	"balk/coverage/sweeps"
	"balk/geo/plane"
)

// A plan of one bent row about (0, 0): what its sweeps leave is the laps below 0 on that radius times the way; laps are held
// against a frame that is stepped along in coverage/sweeps.
func TestUncutOfABentRow(t *testing.T) {
	const radius = 20.0
	im := rig.Implement{Width: 3.05, Mount: rig.Mount{Hitch: 2, BarBehind: 1},
		Sweeps: rig.Layout{Count: 12, Spacing: 0.25, Width: 0.30, Beams: []float64{0, 1.4}}}
	var line []plane.XY
	for k := range 90 {
		sin, cos := math.Sincos(float64(k) * math.Pi / 180)
		line = append(line, plane.XY{X: radius * cos, Y: radius * sin})
	}
	p := Plan{Implement: im, Passes: []Pass{{Number: 1, Line: line}}}
	got := p.uncut()
	want := 0.0
	for _, l := range sweeps.Of(im.Sweeps, false).Laps(sweeps.Motion{Curvature: 1 / radius, Crab: math.Asin(3 / radius)}) {
		want += max(0, -l.Lap) * (radius - l.At) * 89 * math.Pi / 180
	}
	if want < 1 || math.Abs(got-want) > 0.04*want { // at its ends a drawn line faces along a chord
		t.Errorf("%.3f m² uncut, want %.3f", got, want)
	}
	p.Implement.Sweeps = rig.Layout{}
	if got := p.uncut(); got != 0 {
		t.Errorf("without a layout %g", got)
	}
}
