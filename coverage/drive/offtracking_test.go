package drive

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// circleTrail is an antenna on a circle round the origin, logged every step metres.
func circleTrail(radius, step, travel float64) *trail {
	tr := &trail{}
	for k := 0; float64(k)*step <= travel; k++ {
		sin, cos := math.Sincos(float64(k) * step / radius)
		tr.at = append(tr.at, plane.XY{X: radius * cos, Y: radius * sin})
		tr.seconds = append(tr.seconds, float64(k))
	}
	tr.tracks = []trackStart{{0, 0, 1}}
	return tr
}

// A trailed set on a circle settles on √(R² + h² − L²) to 1 mm, whether logged at
// 1 Hz or 10 Hz (own derivation: hitch, axle and centre form right triangles with
// h and L; the second row is that of a towed vehicle in textbooks, R = 12, L = 5).
func TestTrailedSetSettlesOnItsCircle(t *testing.T) {
	for _, c := range []struct{ r, h, l, want float64 }{
		{10, 0, 6, 8}, {12, 0, 5, math.Sqrt(119)}, {10, 1.2, 4.5, math.Sqrt(100 + 1.44 - 20.25)}, {8, 3, 3, 8},
	} {
		for _, step := range []float64{0.25, 1, 2} {
			t.Run(fmt.Sprintf("R %g h %g L %g, a fix every %g m", c.r, c.h, c.l, step), func(t *testing.T) {
				tr := circleTrail(c.r, step, 40*(c.r+c.l))
				tr.place(Work{Mount: rig.Mount{Trailed: true, Hitch: c.h, Drawbar: c.l}}, nil)
				got := tr.at[len(tr.at)-2].Len()
				if math.Abs(got-c.want) > 1e-3 {
					t.Errorf("runs on %.5f m, want %.5f m", got, c.want)
				}
			})
		}
	}
}

// The antenna stands a metre ahead of the rear axle and half a metre to its
// right; the bar is carried 2 m behind the axle, 0.3 m to the right. On a circle
// driven left, the axle settles on √(R² − a²).
func TestRigidSetOnALine(t *testing.T) {
	m := rig.Mount{AntennaAhead: 1, AntennaRight: 0.5, Hitch: 2.5, BarBehind: 0.5, BarRight: 0.3}
	tr := &trail{tracks: []trackStart{{0, 0, 1}}}
	for k := range 40 {
		tr.at = append(tr.at, plane.XY{X: float64(2 * k), Y: 5})
		tr.seconds = append(tr.seconds, float64(k))
	}
	tr.place(Work{Mount: m}, nil)
	// east: right is south. Middle of the tractor 0.5 m left of the antenna, bar
	// 0.3 m right of it: 5 + 0.5 − 0.3.
	if got, want := tr.at[30], (plane.XY{X: 60 - 3, Y: 5.2}); got.Dist(want) > 1e-9 {
		t.Errorf("bar at %v, want %v", got, want)
	}
	if f := tr.facing[30]; f.Dist(plane.XY{X: 1}) > 1e-9 {
		t.Errorf("faces %v, want east", f)
	}
}

func TestAntennaAheadOfTheAxle(t *testing.T) {
	const r, a, behind = 12.0, 1.5, 2.0
	tr := circleTrail(r, 1, 300)
	tr.place(Work{Mount: rig.Mount{AntennaAhead: a, Hitch: a + behind}}, nil) // bar 2 m behind the axle, rigid
	axle := math.Sqrt(r*r - a*a)
	if got, want := tr.at[250].Len(), math.Hypot(axle, behind); math.Abs(got-want) > 1e-3 {
		t.Errorf("bar runs on %.5f m, want %.5f m", got, want)
	}
}

// Standing still for a minute with 1 cm of noise turns neither tractor nor bar.
func TestParkedSetDoesNotTurn(t *testing.T) {
	tr := &trail{tracks: []trackStart{{0, 0, 1}}}
	add := func(p plane.XY) {
		tr.at, tr.seconds = append(tr.at, p), append(tr.seconds, float64(len(tr.seconds)))
	}
	for k := range 20 {
		add(plane.XY{X: float64(k)})
	}
	for k := range 60 {
		sin, cos := math.Sincos(float64(k) * 2.4)
		add(plane.XY{X: 19 + 0.01*cos, Y: 0.01 * sin})
	}
	for k := range 20 {
		add(plane.XY{X: 20 + float64(k)})
	}
	tr.place(Work{Mount: rig.Mount{Trailed: true, Hitch: 2, Drawbar: 4, BarBehind: 1}}, nil)
	for k, f := range tr.facing {
		if math.Abs(f.Y) > 0.02 {
			t.Fatalf("fix %d: bar faces %v, want east", k, f)
		}
	}
}

// A circle tighter than the drawbar radius is said with fix and greatest angle; a
// wider one is not.
func TestSharperThanTheDrawbarMayGo(t *testing.T) {
	for _, c := range []struct {
		name   string
		radius float64
		m      rig.Mount
		want   string
	}{
		{"wider than the drawbar radius", 12, rig.Mount{Trailed: true, Hitch: 1, Drawbar: 5, DrawbarRadius: 10}, ""},
		{"tighter", 9, rig.Mount{Trailed: true, Hitch: 1, Drawbar: 5, DrawbarRadius: 10}, "sharper angle than it may"},
		{"angle given, within", 10, rig.Mount{Trailed: true, Drawbar: 6, MaxAngle: 37}, ""},
		{"angle given, beyond", 10, rig.Mount{Trailed: true, Drawbar: 6, MaxAngle: 36}, "greatest 37°, limit 36°"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := trial.Say(circleTrail(c.radius, 0.5, 200).place(Work{Mount: c.m}, nil))
			if (c.want == "") == strings.Contains(got, "sharper") || !strings.Contains(got, c.want) {
				t.Errorf("said %q, want %q", got, c.want)
			}
		})
	}
}

// The set drives east, backs up 8 m with the tool lifted, and drives on; logged
// at 1 Hz and at 10 Hz.
func TestPushedBack(t *testing.T) {
	for _, step := range []float64{2, 0.2} {
		t.Run(fmt.Sprintf("a fix every %g m", step), func(t *testing.T) { pushedBack(t, step) })
	}
}

func pushedBack(t *testing.T, step float64) {
	back := func() *trail {
		tr := &trail{tracks: []trackStart{{0, 0, 1}}}
		add := func(x float64, s geo.WorkState) {
			tr.at, tr.State = append(tr.at, plane.XY{X: x}), append(tr.State, s)
			tr.seconds = append(tr.seconds, float64(len(tr.seconds)))
		}
		for x := 0.0; x < 40; x += step {
			add(x, geo.Working)
		}
		for x := 40.0; x > 32; x -= step {
			add(x, geo.Lifted)
		}
		for x := 32.0; x <= 60; x += step {
			add(x, geo.Lifted)
		}
		return tr
	}
	m := rig.Mount{Trailed: true, Hitch: 2, Drawbar: 4}
	if got := trial.Say(back().place(Work{Mount: m}, nil)); !strings.Contains(got, fmt.Sprintf("pushed back 1 times, first at fix %.0f, 00:0", 40/step+2)) {
		t.Errorf("said %q", got)
	}
	m.MayReverse = true
	tr := back()
	if got := trial.Say(tr.place(Work{Mount: m}, nil)); strings.Contains(got, "pushed back") {
		t.Errorf("it may, but said %q", got)
	}
	for k, f := range tr.facing {
		if f.Dist(plane.XY{X: 1}) > 1e-6 {
			t.Fatalf("fix %d: bar faces %v, want east all the way", k, f)
		}
	}
}
