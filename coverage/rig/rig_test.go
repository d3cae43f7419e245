package rig

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"balk/geo/plane"
	"balk/testdata/check"
)

func degrees(u, e plane.XY) float64 { return math.Atan2(e.Cross(u), e.Dot(u)) * 180 / math.Pi }

// Source: check/turning/tractrix.csv, closed forms checked there by integration.
func TestFollowTractrix(t *testing.T) {
	for _, row := range check.Rows(t, "turning/tractrix.csv") {
		l, psi0, s, want := row.Number("L_m"), row.Number("psi0_deg"), row.Number("s_m"), row.Number("psi_deg")
		sin, cos := math.Sincos(-psi0 * math.Pi / 180)
		e := plane.XY{X: cos, Y: sin} // the hitch starts to the east
		t.Run(fmt.Sprintf("%s R %s L %g from %g after %g", row.Text("kind"), row.Text("R_m"), l, psi0, s), func(t *testing.T) {
			if row.Text("kind") == "straight" {
				for _, pieces := range []int{1, 7} { // exact in one step and in many
					f := e
					for range pieces {
						f = Follow(f, plane.XY{X: s / float64(pieces)}, l)
					}
					if got := degrees(plane.XY{X: 1}, f); math.Abs(got-want) > 1e-6 {
						t.Errorf("%d steps: %.9f°, want %.9f°", pieces, got, want)
					}
				}
				return
			}
			r := row.Number("R_m")
			const n = 200000
			at := func(k int) plane.XY {
				sin, cos := math.Sincos(s / r * float64(k) / n)
				return plane.XY{X: r * sin, Y: r * (1 - cos)}
			}
			for k := range n {
				e = Follow(e, at(k+1).Sub(at(k)), l)
			}
			sin, cos := math.Sincos(s / r)
			if got := degrees(plane.XY{X: cos, Y: sin}, e); math.Abs(got-want) > 1e-6 {
				t.Errorf("%.9f°, want %.9f°", got, want)
			}
		})
	}
}

func TestSteadyAngle(t *testing.T) {
	// Source: check/turning/trailer_steady.csv (own derivation, see its head).
	for _, row := range check.Rows(t, "turning/trailer_steady.csv") {
		t.Run(fmt.Sprintf("R %s hitch %s drawbar %s", row.Text("R_m"), row.Text("hitch_offset_m"), row.Text("drawbar_L_m")), func(t *testing.T) {
			m := Mount{Trailed: true, Hitch: row.Number("hitch_offset_m"), Drawbar: row.Number("drawbar_L_m")}
			got, ok := m.SteadyAngle(row.Number("R_m"))
			if want := row.Number("articulation_deg"); !ok || math.Abs(got-want) > 1e-6 {
				t.Errorf("%.7f° (%t), want %.7f°", got, ok, want)
			}
		})
	}
}

func TestAngleLimit(t *testing.T) {
	for _, c := range []struct {
		name string
		m    Mount
		want float64
	}{
		{"nothing known", Mount{Trailed: true, Drawbar: 6}, 0},
		{"angle given", Mount{Trailed: true, Drawbar: 6, MaxAngle: 55, DrawbarRadius: 10}, 55},
		{"from the drawbar radius", Mount{Trailed: true, Drawbar: 6, DrawbarRadius: 10}, 36.8698976}, // sin = 6/10
	} {
		if got := c.m.AngleLimit(); math.Abs(got-c.want) > 1e-6 {
			t.Errorf("%s: %.7f°, want %.7f°", c.name, got, c.want)
		}
	}
	if _, ok := (Mount{Trailed: true, Drawbar: 6}).SteadyAngle(5); ok {
		t.Error("a drawbar of 6 m has no steady turn on 5 m")
	}
}

// TestLeastRadiusWithAHitchOffset: hitch h behind the axle and drawbar L stand square on each other where the implement's
// axle stands on the centre: R² + h² = L². Source: the steady circle √(R² + h² − L²) = 0 (VALUES.md c, textbook form).
func TestLeastRadiusWithAHitchOffset(t *testing.T) {
	for _, c := range []struct {
		name string
		m    Mount
		want float64
	}{
		{"hitch under the axle: L itself", Mount{Trailed: true, Drawbar: 5}, 5},
		{"hitch 3 m behind the axle: 3, 4, 5", Mount{Trailed: true, Hitch: 3, Drawbar: 5}, 4},
		{"the same with the antenna 1.2 m ahead of the axle", Mount{Trailed: true, AntennaAhead: 1.2, Hitch: 4.2, Drawbar: 5}, 4},
		{"hitch 3 m ahead of the axle", Mount{Trailed: true, Hitch: -3, Drawbar: 5}, 4},
		{"hitch farther out than the drawbar is long: never", Mount{Trailed: true, Hitch: 5.5, Drawbar: 5}, 0},
		{"rigid", Mount{Hitch: 2}, 0},
	} {
		got := c.m.LeastRadius()
		if math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%s: %.9f m, want %.9f m", c.name, got, c.want)
		}
		if !c.m.Trailed || got == 0 {
			continue
		}
		if _, ok := c.m.SteadyAngle(got - 1e-6); ok {
			t.Errorf("%s: a steady turn just below %g m", c.name, got)
		}
		if _, ok := c.m.SteadyAngle(got + 1e-6); !ok {
			t.Errorf("%s: no steady turn just above %g m", c.name, got)
		}
		c.m.DrawbarRadius = got - 1e-3
		below := c.m.Validate()
		c.m.DrawbarRadius = got + 1e-3
		if above := c.m.Validate(); below == nil || above != nil {
			t.Errorf("%s: a drawbar radius just below gives %v, just above %v", c.name, below, above)
		}
	}
}

// TestReversingWithTheAntennaAhead: drawn along in reverse, an axle behind the antenna is unstable: an error grows by e^(s/a),
// so that 2 cm of noise would turn the tractor about within metres. In reverse the given headings count; the bar stays where a
// rigid set has it, also on a circle, where the antenna a ahead of the axle runs at atan(a/R) to the tractor.
func TestReversingWithTheAntennaAhead(t *testing.T) {
	const a = 1.5
	m := Mount{AntennaAhead: a, Hitch: a + 1.2, BarBehind: 0.8} // bar 2 m behind the axle
	east := plane.XY{X: 1}
	s := Set{Ahead: east, Drawn: east}
	for k := 1; k <= 40; k++ { // 20 m back, 2 cm to either side
		to := plane.XY{X: -0.5 * float64(k), Y: 0.02 * float64(1-2*(k%2))}
		s = s.Drive(m, to, east, east)
		if at, facing := s.Bar(m); facing.Dist(east) > 1e-9 || at.Dist(plane.XY{X: to.X - a - 2, Y: to.Y}) > 1e-9 {
			t.Fatalf("after %g m in reverse: bar at %v facing %v", -to.X, at, facing)
		}
	}
	const r = 8.0
	pose := func(turned float64) (antenna, ahead, bar plane.XY) {
		sin, cos := math.Sincos(turned)
		axle := plane.XY{X: r * sin, Y: r * (1 - cos)} // to the left round (0, r)
		ahead = plane.XY{X: cos, Y: sin}
		return axle.Add(ahead.Scale(a)), ahead, axle.Sub(ahead.Scale(2))
	}
	antenna, ahead, _ := pose(0)
	s = Set{Antenna: antenna, Ahead: ahead, Drawn: ahead}
	for k := 1; k <= 60; k++ {
		to, h1, bar := pose(-0.02 * float64(k))
		s = s.Drive(m, to, s.Ahead, h1)
		if at, _ := s.Bar(m); at.Dist(bar) > 1e-9 {
			t.Fatalf("after %.2f m of a circle in reverse: bar %.4f m off", 0.02*r*float64(k), at.Dist(bar))
		}
	}
	// Forward the axle follows by itself: started across, it is in line after some metres.
	s = Set{Ahead: plane.XY{Y: 1}, Drawn: plane.XY{Y: 1}}
	for k := 1; k <= 40; k++ {
		s = s.Drive(m, plane.XY{X: 0.5 * float64(k)}, east, east)
	}
	if s.Ahead.Dist(east) > 1e-3 {
		t.Errorf("after 20 m forward it heads %v", s.Ahead)
	}
}

func TestImplementIsRefused(t *testing.T) {
	for _, c := range []struct {
		name, fault string
		im          Implement
	}{
		{"no width", "above 0 m", Implement{}},
		{"no number", "working width", Implement{Width: math.NaN()}},
		{"overlap as wide as the tool", "overlap 5 m", Implement{Width: 5, Overlap: 5}},
		{"sections that do not add up", "add up to", Implement{Width: 5, Sections: []float64{2, 2}}},
		{"a section of nothing", "section 2", Implement{Width: 5, Sections: []float64{5, 0}}},
		{"trailed without a drawbar", "drawbar 0 m", Implement{Width: 5, Mount: Mount{Trailed: true}}},
		{"rigid with a drawbar", "only a trailed set", Implement{Width: 5, Mount: Mount{Drawbar: 4}}},
		{"rigid with a drawbar radius", "only a trailed set", Implement{Width: 5, Mount: Mount{DrawbarRadius: 4}}},
		{"rigid with a drawbar angle", "only a trailed set", Implement{Width: 5, Mount: Mount{MaxAngle: 4}}},
		{"a radius on which the drawbar folds", "above 6.00 m", Implement{Width: 5, Mount: Mount{Trailed: true, Drawbar: 6, DrawbarRadius: 6}}},
		{"an angle past the tractor", "180°", Implement{Width: 5, Mount: Mount{Trailed: true, Drawbar: 6, MaxAngle: 200}}},
		{"antenna behind the axle", "ahead of the rear axle", Implement{Width: 5, Mount: Mount{AntennaAhead: -1}}},
		{"antenna under the ground", "above the ground", Implement{Width: 5, Mount: Mount{AntennaUp: -1}}},
		{"a hitch of 100 m", "hitch 100 m", Implement{Width: 5, Mount: Mount{Hitch: 100}}},
		{"a tractor of 80 m", "tractor, ahead 80 m", Implement{Width: 5, Tractor: Tractor{Ahead: 80}}},
		{"a body of less than nothing", "body, behind -1 m", Implement{Width: 5, Body: Body{Behind: -1}}},
		{"turning at 90 km/h", "turning, speed 90 km/h", Implement{Width: 5, Turning: Turning{Speed: 90}}},
		{"no number in the mount", "bar right", Implement{Width: 5, Mount: Mount{BarRight: math.NaN()}}},
	} {
		if err := c.im.Validate(); err == nil || !strings.Contains(err.Error(), c.fault) {
			t.Errorf("%s: %v, want a fault that says %q", c.name, err, c.fault)
		}
	}
	if err := (Implement{Width: 6, Overlap: 0.1, Sections: []float64{1.5, 3, 1.5}}).Validate(); err != nil {
		t.Error(err)
	}
}

func TestAdds(t *testing.T) {
	im := Implement{Width: 6, Sections: []float64{1.5, 3, 1.5}}
	for width, want := range map[float64]bool{6: true, 4.5: true, 1.5: true, 3: true, 3.5: false, 0.7: false} {
		if im.Adds(width) != want {
			t.Errorf("%g m: %t", width, !want)
		}
	}
}

// At another width sections go, and an outline that is not folded up moves with the bar.
func TestOfWidth(t *testing.T) {
	im := Implement{Width: 6, Sections: []float64{3, 3}, Body: Body{Width: 6.2}}
	if got := im.OfWidth(6); len(got.Sections) != 2 {
		t.Errorf("the same width: %+v", got)
	}
	if got := im.OfWidth(8); got.Width != 8 || got.Sections != nil || math.Abs(got.Body.Width-8.2) > 1e-12 {
		t.Errorf("wider: %+v", got)
	}
	im.Body.Width = 3 // folded
	if got := im.OfWidth(8); got.Body.Width != 3 {
		t.Errorf("folded: %+v", got)
	}
}
