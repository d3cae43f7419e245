package drive

import (
	"fmt"
	"math"
	"testing"

	"balk/geo/plane"
	"balk/testdata/trial"
)

// TestBarsAtBends: the rule of bars by the angle alone, whatever the steps' lengths: one bar longer
// by 1/cos of half the bend, two with a pivot between, or two with nothing.
func TestBarsAtBends(t *testing.T) {
	for _, c := range []struct {
		bend float64
		bars int
		next Step
	}{{0, 1, StepWorked}, {5, 1, StepWorked}, {15, 1, StepWorked}, {15.1, 2, StepPivot}, {90, 2, StepPivot}, {149.9, 2, StepPivot}, {150.1, 2, StepCut}, {180, 2, StepCut}} {
		for _, bend := range []float64{c.bend, -c.bend} {
			for _, in := range []float64{0.06, 2, 200} {
				for _, out := range []float64{0.06, 2, 200} {
					sin, cos := math.Sincos(bend * math.Pi / 180)
					got := barsAt(nil, Stop{Width: 6}, plane.XY{X: in}, plane.XY{X: out * cos, Y: out * sin}, plane.XY{}, false, 6)
					if len(got) != c.bars || got[0].Next != c.next {
						t.Errorf("%g° between steps of %g and %g m: %d bars, then %d; want %d, then %d", bend, in, out, len(got), got[0].Next, c.bars, c.next)
						continue
					}
					if c.bars == 1 {
						trial.Near(t, fmt.Sprintf("%g°: length of the bar", bend), got[0].Left.Len(), 1/math.Cos(bend*math.Pi/360), 1e-12)
						trial.Near(t, fmt.Sprintf("%g°: its slant to the step in", bend), math.Atan2(-got[0].Left.X, got[0].Left.Y)*180/math.Pi, bend/2, 1e-9)
					}
				}
			}
		}
	}
}
