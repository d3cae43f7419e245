package drive

import (
	"fmt"
	"math"
	"testing"
	"unsafe"

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
					got := barsAt(nil, Stop{}, 0, plane.XY{X: in}, plane.XY{X: out * cos, Y: out * sin}, plane.XY{}, false, 6)
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

// A run knows each thing that the bar is once, whatever order it comes in, and each stop what it is there.
func TestParts(t *testing.T) {
	want := []Part{{Width: 6, PassError: 0.03}, {Width: 3, PassError: 0.03, shift: 1.5}, {Width: 6, PassError: math.NaN()}, {Width: 6, PassError: 0.03, shift: -1.5}}
	var r Run
	var parts partial
	for round := range 3 {
		for k := range want {
			p := want[(k+round)%len(want)]
			if got := r.Parts[parts.part(&r, p)]; got.key() != p.key() {
				t.Errorf("round %d: %+v, want %+v", round, got, p)
			}
		}
	}
	if len(r.Parts) != len(want) {
		t.Errorf("%d parts, want %d", len(r.Parts), len(want))
	}
	if size := unsafe.Sizeof(Stop{}); size > 48 {
		t.Errorf("a stop takes %d bytes, want 48 at most: there is one for every fix at work", size)
	}
	r.Stops = []Stop{{At: plane.XY{X: 10, Y: 1.5}, Left: plane.XY{Y: 1}, Part: 1}, {At: plane.XY{X: 12}, Left: plane.XY{Y: 1}}, {At: plane.XY{X: 14}, Left: plane.XY{Y: 1}}}
	r.Begins, r.Ends = Switch{From: -0.5, To: 0.5}, Switch{From: -0.25, To: 0.75}
	if got := r.Middle(r.Stops[0]); got != (plane.XY{X: 10, Y: 3}) {
		t.Errorf("middle of the bar at %v", got)
	}
	if right, left := r.Parts[1].Reach(); right != -3 || left != 0 {
		t.Errorf("reaches from %g to %g", right, left)
	}
	if r.Switch(0) != r.Begins || r.Switch(1) != (Switch{}) || r.Switch(2) != r.Ends {
		t.Errorf("switches %+v, %+v, %+v", r.Switch(0), r.Switch(1), r.Switch(2))
	}
}
