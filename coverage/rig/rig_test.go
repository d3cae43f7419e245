package rig

import (
	"fmt"
	"math"
	"reflect"
	"slices"
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

func TestFollowAtRest(t *testing.T) {
	e := plane.XY{X: 0.6, Y: 0.8}
	for name, step := range map[string]plane.XY{"not moved": {}, "pulled straight ahead by 1 m": e, "pushed straight back by 1 m": e.Scale(-1)} {
		if got := Follow(e, step, 4); !(got.Dist(e) < 1e-9) {
			t.Errorf("%s: the drawbar turns to %v", name, got)
		}
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

// TestBarIsWhereTheMountSaysIt: antenna at (10, 20), every measure another number; the same seen after a quarter turn.
func TestBarIsWhereTheMountSaysIt(t *testing.T) {
	north, east := plane.XY{Y: 1}, plane.XY{X: 1}
	for _, c := range []struct {
		name         string
		m            Mount
		ahead, drawn plane.XY
		hitch, bar   plane.XY
	}{
		{"nothing given: under the antenna", Mount{}, north, north, plane.XY{X: 10, Y: 20}, plane.XY{X: 10, Y: 20}},
		{"rigid: antenna 0.5 m right of the middle, hitch 3 m behind, bar 1 m behind and 0.2 m right", Mount{AntennaRight: 0.5, Hitch: 3, BarBehind: 1, BarRight: 0.2},
			north, north, plane.XY{X: 9.5, Y: 17}, plane.XY{X: 9.7, Y: 16}},
		{"the same heading east: right is south", Mount{AntennaRight: 0.5, Hitch: 3, BarBehind: 1, BarRight: 0.2},
			east, east, plane.XY{X: 7, Y: 20.5}, plane.XY{X: 6, Y: 20.3}},
		{"a bar on the front: ahead of the antenna", Mount{Hitch: -4, BarBehind: -1}, north, north, plane.XY{X: 10, Y: 24}, plane.XY{X: 10, Y: 25}},
		{"trailed: drawbar 5 m, bar 1 m behind its axle and 0.2 m right", Mount{Trailed: true, Hitch: 3, Drawbar: 5, BarBehind: 1, BarRight: 0.2},
			north, north, plane.XY{X: 10, Y: 17}, plane.XY{X: 10.2, Y: 11}},
		{"trailed and folded square: the tractor north, the drawbar east", Mount{Trailed: true, Hitch: 3, Drawbar: 5, BarBehind: 1, BarRight: 0.2},
			north, east, plane.XY{X: 10, Y: 17}, plane.XY{X: 4, Y: 16.8}},
	} {
		s := Set{Antenna: plane.XY{X: 10, Y: 20}, Ahead: c.ahead, Drawn: c.drawn}
		facing := c.ahead
		if c.m.Trailed {
			facing = c.drawn
		}
		at, faces := s.Bar(c.m)
		if hitch := s.Hitch(c.m); hitch.Dist(c.hitch) > 1e-9 || at.Dist(c.bar) > 1e-9 || faces != facing {
			t.Errorf("%s: hitch %v, bar %v facing %v; want %v, %v facing %v", c.name, hitch, at, faces, c.hitch, c.bar, facing)
		}
	}
}

func TestAngle(t *testing.T) {
	for deg, want := range map[float64]float64{0: 0, 30: 30, -30: 30, 90: 90, 135: 135, -135: 135, 180: 180} {
		sin, cos := math.Sincos(deg * math.Pi / 180)
		s := Set{Ahead: plane.XY{X: 1}, Drawn: plane.XY{X: cos, Y: sin}}
		if got := s.Angle() * 180 / math.Pi; math.Abs(got-want) > 1e-9 {
			t.Errorf("drawbar turned by %g°: %.9f°, want %g°", deg, got, want)
		}
	}
}

// TestDriveRoundACircle: in steps of 2 m round 10 m a set comes to its steady angle, as if the fixes stood close: between two of
// them the antenna runs on a bend and the hitch swings out with the tractor's heading. R 10, hitch 1.5 m behind the axle, drawbar
// 4 m: atan(1.5/10) + atan(4/√86.25) = 8.53° + 23.30°. In reverse the axle keeps its heading and the way back is the way there.
func TestDriveRoundACircle(t *testing.T) {
	const r, step = 10.0, 0.2
	pose := func(k int, side float64) (antenna, ahead plane.XY) {
		sin, cos := math.Sincos(step * float64(k))
		return plane.XY{X: r * sin, Y: side * r * (1 - cos)}, plane.XY{X: cos, Y: side * sin}
	}
	m := Mount{Trailed: true, Hitch: 1.5, Drawbar: 4}
	want, ok := m.SteadyAngle(r)
	if !ok || math.Abs(want-31.83) > 0.005 {
		t.Fatalf("steady angle %.3f° (%t)", want, ok)
	}
	for name, side := range map[string]float64{"to the left": 1, "to the right": -1} {
		t.Run(name, func(t *testing.T) {
			at, ahead := pose(0, side)
			s := Set{Antenna: at, Ahead: ahead, Drawn: ahead}
			for k := 1; k <= 60; k++ {
				to, h := pose(k, side)
				s = s.Drive(m, to, ahead, h)
				ahead = h
			}
			if got := s.Angle() * 180 / math.Pi; math.Abs(got-want) > 0.01 {
				t.Errorf("after two rounds %.4f°, want %.4f°", got, want)
			}
			from := s
			there, h0 := pose(61, side)
			back, h1 := pose(60, side)
			s = s.Drive(m, there, h1, h0).Drive(m, back, h0, h1)
			if d := s.Drawn.Dist(from.Drawn); d > 1e-4 {
				t.Errorf("there and back in reverse: the drawbar has turned by %.6f rad", d)
			}
		})
	}
}

// TestDriveRoundAWideBend: in steps of 2.3 m round 250 m, which are too little bent to be cut, tractor and drawbar stand as they do in a steady
// turn: the rear axle runs a = 0.5 m behind the antenna, whose way it is off by asin(a/R), and the drawbar by Mount.SteadyAngle. Half a step behind, the
// heading would be off by 1.2 mrad, and a bar 3.6 m behind by 4 mm on each of many rows.
func TestDriveRoundAWideBend(t *testing.T) {
	const r, step, a = 250.0, 2.3 / 250, 0.5
	m := Mount{Trailed: true, AntennaAhead: a, Hitch: 1.4, Drawbar: 4.2}
	sin := a / r
	// The hitch lies 0.9 m behind an axle on √(R² − a²), and is drawn square to its own radius.
	hitch := math.Sqrt(r*r - a*a + 0.9*0.9)
	drawn := math.Atan(0.9/math.Sqrt(r*r-a*a)) + math.Asin(4.2/hitch)
	s := Set{Ahead: plane.XY{X: 1}, Drawn: plane.XY{X: 1}}
	ahead := s.Ahead
	for k := 1; k <= 60; k++ {
		y, x := math.Sincos(step * float64(k))
		h := plane.XY{X: x, Y: y}
		s = s.Drive(m, plane.XY{X: r * y, Y: r * (1 - x)}, ahead, h)
		ahead = h
	}
	if got := math.Asin(s.Ahead.Cross(ahead)); math.Abs(got-math.Asin(sin)) > 2e-5 {
		t.Errorf("the tractor stands %.6f rad off its antenna's way, want %.6f", got, math.Asin(sin))
	}
	if got := s.Angle(); math.Abs(got-drawn) > 2e-5 {
		t.Errorf("the drawbar stands at %.6f rad, want %.6f", got, drawn)
	}
}

// TestFollowBent: one step on an arc is as many short straight ones, by Follow.
func TestFollowBent(t *testing.T) {
	for _, c := range []struct{ step, turn, l float64 }{{0.02, 0.002, 4}, {0.2, 0.02, 4}, {1, 0.05, 0.5}, {2, -0.05, 4}, {10, 0.04, 2}} {
		const n = 20000
		e := plane.XY{X: math.Cos(0.1), Y: math.Sin(0.1)} // the way begins to the east
		short, at := e, plane.XY{}
		for k := range n {
			sin, cos := math.Sincos(c.turn * (float64(k) + 0.5) / n)
			d := plane.XY{X: cos, Y: sin}.Scale(c.step / n)
			short, at = Follow(short, d, c.l), at.Add(d)
		}
		if got := FollowBent(e, at, c.turn, c.l); got.Dist(short) > 2e-3*math.Abs(c.turn)*math.Min(1, c.step/c.l)+1e-9 {
			t.Errorf("%g m by %g rad, drawbar %g m: %v, in short steps %v", c.step, c.turn, c.l, got, short)
		}
	}
}

// TestDriveBentAtOneEnd: a bend at either end alone is driven as one; the way back in reverse is the way there.
func TestDriveBentAtOneEnd(t *testing.T) {
	m := Mount{Trailed: true, Hitch: 1.5, Drawbar: 4}
	to := plane.XY{X: 3}
	straight, bent := plane.XY{X: 1}, plane.XY{X: 0.8, Y: 0.6}
	for name, h := range map[string][2]plane.XY{"at the start": {bent, straight}, "at the end": {straight, bent}} {
		s := Set{Ahead: h[0], Drawn: straight}
		there := s.Drive(m, to, h[0], h[1])
		if there.Drawn.Dist(s.Move(m, to, h[1], false).Drawn) < 0.01 {
			t.Errorf("%s: driven as a straight step", name)
		}
		if back := there.Drive(m, plane.XY{}, h[1], h[0]); back.Drawn.Dist(straight) > 1e-4 {
			t.Errorf("%s: there and back in reverse: the drawbar stands at %v", name, back.Drawn)
		}
	}
}

// TestDriveTakesAsStraight: a step too short for its bend to show, and one whose headings cannot be those of the way.
func TestDriveTakesAsStraight(t *testing.T) {
	m := Mount{Trailed: true, Hitch: 1.5, Drawbar: 4}
	along, bent, across := plane.XY{X: 1}, plane.XY{X: 0.8, Y: 0.6}, plane.XY{Y: 1}
	for _, c := range []struct {
		name   string
		to     plane.XY
		h0, h1 plane.XY
	}{
		{"a step of 0.19 m, bent", plane.XY{X: 0.19}, along, bent},
		{"it starts across the way", plane.XY{X: 3}, across, along},
		{"it ends across the way", plane.XY{X: 3}, along, across},
		{"it stands still and turns", plane.XY{}, along, bent},
	} {
		s := Set{Ahead: c.h0, Drawn: plane.XY{X: 0.6, Y: 0.8}}
		if got, want := s.Drive(m, c.to, c.h0, c.h1), s.Move(m, c.to, c.h1, false); got != want {
			t.Errorf("%s: %v, want %v", c.name, got, want)
		}
	}
}

func TestImplementIsRefused(t *testing.T) {
	for _, c := range []struct {
		name, fault string
		im          Implement
	}{
		{"no width", "above 0 and not above 100 m", Implement{}},
		{"a width below nothing", "above 0 and not above 100 m", Implement{Width: -1}},
		{"no number", "working width", Implement{Width: math.NaN()}},
		{"wider than any is built", "working width 100.1 m", Implement{Width: 100.1}},
		{"less than no width", "working width -1 m", Implement{Width: -1}},
		{"an overlap below nothing", "overlap -0.1 m", Implement{Width: 5, Overlap: -0.1}},
		{"257 sections", "257 sections", Implement{Width: 51.4, Sections: slices.Repeat([]float64{0.2}, 257)}},
		{"sections 2 cm short", "3.98 m together", Implement{Width: 4, Sections: []float64{2, 1.98}}},
		{"an angle below nothing", "from 0 to 180°", Implement{Width: 5, Mount: Mount{Trailed: true, Drawbar: 6, MaxAngle: -1}}},
		{"a drawbar radius below nothing", "drawbar radius -1 m", Implement{Width: 5, Mount: Mount{Trailed: true, Drawbar: 6, DrawbarRadius: -1}}},
		{"the antenna 51 m to the left", "antenna right -51 m", Implement{Width: 5, Mount: Mount{AntennaRight: -51}}},
		{"a lower delay out of reach", "lower delay 21 s: must be within ±20 s", Implement{Width: 5, LowerDelay: 21}},
		{"a lift delay out of reach", "lift delay -21 s", Implement{Width: 5, LiftDelay: -21}},
		{"a lift delay that is none", "lift delay NaN s", Implement{Width: 5, LiftDelay: math.NaN()}},
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
	for name, im := range map[string]Implement{
		"delays of either sign":                                   {Width: 6, LowerDelay: 20, LiftDelay: -20},
		"sections and an overlap":                                 {Width: 6, Overlap: 0.1, Sections: []float64{1.5, 3, 1.5}},
		"as wide as can be, 256 sections":                         {Width: 100, Sections: slices.Repeat([]float64{100. / 256}, 256)},
		"a narrow tool, nearly all overlap":                       {Width: 0.5, Overlap: 0.49},
		"sections 5 mm short":                                     {Width: 4, Sections: []float64{2, 1.995}},
		"a drawbar that may fold right round, on no known radius": {Width: 5, Mount: Mount{Trailed: true, Drawbar: 50, MaxAngle: 180}},
		"everything as far away as can be": {Width: 5, Mount: Mount{AntennaAhead: 50, AntennaRight: -50, AntennaUp: 50, Hitch: -50, BarBehind: 50, BarRight: 50},
			Tractor: Tractor{Ahead: 50, Behind: 50, Width: 50}, Body: Body{Ahead: 50, Behind: 50, Width: 100, Wheels: 50}, Turning: Turning{Radius: 50, Sharpness: 10, Speed: 60, ReverseSpeed: 60, Change: 600, Margin: 50}},
	} {
		if err := im.Validate(); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Every measure of an outline and of a turn is refused a little above its greatest, each under its own name.
func TestOutlineIsRefused(t *testing.T) {
	for fault, im := range map[string]Implement{
		"tractor, ahead 50.1 m":            {Tractor: Tractor{Ahead: 50.1}},
		"tractor, behind 50.1 m":           {Tractor: Tractor{Behind: 50.1}},
		"tractor, width 50.1 m":            {Tractor: Tractor{Width: 50.1}},
		"body, ahead 50.1 m":               {Body: Body{Ahead: 50.1}},
		"body, behind 50.1 m":              {Body: Body{Behind: 50.1}},
		"body, width 100.1 m":              {Body: Body{Width: 100.1}},
		"body, wheels 50.1 m":              {Body: Body{Wheels: 50.1}},
		"body, tyre 3.1 m":                 {Body: Body{Tyre: 3.1, Track: 2}},
		"body, track -1 m":                 {Body: Body{Tyre: 0.3, Track: -1}},
		"body, tyre 0 m wide":              {Body: Body{Track: 2}},
		"body, tyre 2, 51 m right":         {Body: Body{Tyre: 0.3, Tyres: []float64{0, 51}}},
		"body, 65 tyres":                   {Body: Body{Tyre: 0.3, Tyres: make([]float64, 65)}},
		"must be one of them":              {Body: Body{Tyre: 0.3, Track: 2, Tyres: []float64{0}}},
		"body, tyres 51 m behind the bar":  {Body: Body{Tyre: 0.3, TyresBehind: 51}},
		"turning, radius 50.1 m":           {Turning: Turning{Radius: 50.1}},
		"turning, sharpness 10.1 1/m²":     {Turning: Turning{Sharpness: 10.1}},
		"turning, speed 60.1 km/h":         {Turning: Turning{Speed: 60.1}},
		"turning, reverse speed 60.1 km/h": {Turning: Turning{ReverseSpeed: 60.1}},
		"turning, change 601 s":            {Turning: Turning{Change: 601}},
		"turning, margin NaN m":            {Turning: Turning{Margin: math.NaN()}},
	} {
		im.Width = 5
		if err := im.Validate(); err == nil || !strings.Contains(err.Error(), fault) {
			t.Errorf("%v, want a fault that says %q", err, fault)
		}
	}
}

func TestTurnRadius(t *testing.T) {
	for _, c := range []struct{ tractor, drawbar, want float64 }{{6, 8, 8}, {8, 6, 8}, {0, 6, 6}, {6, 0, 6}, {0, 0, 0}} {
		if got := (Implement{Turning: Turning{Radius: c.tractor}, Mount: Mount{DrawbarRadius: c.drawbar}}).TurnRadius(); got != c.want {
			t.Errorf("tractor %g m, drawbar %g m: %g m, want %g m", c.tractor, c.drawbar, got, c.want)
		}
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
func TestBarsAreRefused(t *testing.T) {
	two := func(change func(*Implement)) Implement {
		im := Implement{Width: 6, Bars: []Bar{{Name: "coarse"}, {Name: "fine", Behind: 1.5}}}
		change(&im)
		return im
	}
	for _, c := range []struct {
		name string
		im   Implement
		want string
	}{
		{"two", two(func(*Implement) {}), ""},
		{"one", two(func(im *Implement) { im.Bars = im.Bars[:1] }), "bars, 1 given: must be from 2 to 8, or none"},
		{"too many", two(func(im *Implement) { im.Bars = make([]Bar, 9) }), "bars, 9 given"},
		{"no name", two(func(im *Implement) { im.Bars[1].Name = "" }), "bar 2 has no name"},
		{"one name", two(func(im *Implement) { im.Bars[1].Name = "coarse" }), `bar 2 is called "coarse"`},
		{"far behind", two(func(im *Implement) { im.Bars[1].Behind = 51 }), `bar "fine", 51 m behind: must be within ±50 m`},
		{"nowhere", two(func(im *Implement) { im.Bars[1].Right = math.NaN() }), `bar "fine", NaN m to the right`},
		{"below nothing", two(func(im *Implement) { im.Bars[0].Width = -1 }), `bar "coarse", -1 m wide`},
		{"too wide", two(func(im *Implement) { im.Bars[0].Width = 101 }), `bar "coarse": working width 101 m`},
		{"late", two(func(im *Implement) { im.Bars[1].LiftDelay = 21 }), `bar "fine": lift delay 21 s`},
		{"sweeps of the set", two(func(im *Implement) { im.Sweeps = Layout{Count: 2, Spacing: 1, Width: 1, Beams: []float64{0}} }), "sweeps of the set, and 2 bars"},
		{"sweeps of a bar", two(func(im *Implement) { im.Bars[1].Sweeps.Count = 500 }), `bar "fine": 500 sweeps`},
	} {
		if err := c.im.Validate(); (err == nil) != (c.want == "") || err != nil && !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
}

func TestOfBar(t *testing.T) {
	im := Implement{Width: 6, Sections: []float64{3, 3}, Mount: Mount{Hitch: 1, BarBehind: 1}, Body: Body{Ahead: 1, Behind: 2, Width: 3}, LowerDelay: 1, LiftDelay: 2,
		Bars: []Bar{{Name: "whole"}, {Name: "part", Behind: 1.5, Right: 0.5, Width: 4, LiftDelay: 3}}}
	if got := im.OfBar(0); got.Width != 6 || len(got.Sections) != 2 || got.Mount != im.Mount || !reflect.DeepEqual(got.Body, im.Body) || got.Bars != nil {
		t.Errorf("%+v", got)
	}
	got := im.OfBar(1)
	if got.Width != 4 || got.Sections != nil || got.Mount.BarBehind != 2.5 || got.Mount.BarRight != 0.5 || got.LowerDelay != 1 || got.LiftDelay != 3 || got.Bars != nil {
		t.Errorf("%+v", got)
	}
	if want := (Body{Ahead: 2.5, Behind: 0.5, Width: 3}); !reflect.DeepEqual(got.Body, want) { // the frame stays where it is
		t.Errorf("%+v, want %+v", got.Body, want)
	}
	if one := (Implement{Width: 6}); one.OfBar(0).Width != 6 {
		t.Error("a set of one bar")
	}
	if got := im.OfWidth(5); got.Bars != nil {
		t.Errorf("%+v", got.Bars)
	}
}

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
	if got := (Implement{Width: 0.6, Body: Body{Width: 0.8}}).OfWidth(0.9); math.Abs(got.Body.Width-1.1) > 1e-12 {
		t.Errorf("narrow: %+v", got)
	}
	if got := (Implement{Width: 6, Body: Body{Width: 6}}).OfWidth(8); got.Body.Width != 8 {
		t.Errorf("an outline just as wide as the bar: %+v", got)
	}
	if got := (Implement{Body: Body{Width: 3}}).OfWidth(6); got.Width != 6 || got.Body.Width != 3 {
		t.Errorf("no width before, so the outline stands for itself: %+v", got)
	}
}

// A layout by a rule and the same sweep by sweep; what Validate refuses names the place and the limit.
func TestLayout(t *testing.T) {
	l := Layout{Count: 5, Spacing: 0.25, Width: 0.3, Worn: 0.27, Angle: 70, Beams: []float64{0, 0.7}, Depths: []float64{0.04, 0.05}, LeftOut: []int{2}}
	if err := l.Validate(); err != nil {
		t.Fatal(err)
	}
	want := []Sweep{{-0.5, 0, 0.3, 0.27, 70, 0.04}, {0, 0, 0.3, 0.27, 70, 0.04}, {0.25, 0.7, 0.3, 0.27, 70, 0.05}, {0.5, 0, 0.3, 0.27, 70, 0.04}}
	if got := l.All(); !slices.Equal(got, want) {
		t.Errorf("%+v, want %+v", got, want)
	}
	mirrored := Layout{Count: 6, Spacing: 1, Width: 1, Beams: []float64{0, 1, 2}, Order: []int{1, 2, 3}, Mirrored: true}
	behind := func(l Layout) (b []float64) {
		for _, s := range l.All() {
			b = append(b, s.Behind)
		}
		return b
	}
	if got := behind(mirrored); !slices.Equal(got, []float64{2, 1, 0, 0, 1, 2}) {
		t.Errorf("mirrored: %v", got)
	}
	mirrored.Count = 5
	if got := behind(mirrored); !slices.Equal(got, []float64{2, 1, 0, 1, 2}) {
		t.Errorf("mirrored, odd: %v", got)
	}
	good := Sweep{Right: 0.1, Width: 0.3}
	for want, bad := range map[string]Layout{
		"rule too":                    {Each: []Sweep{good}, Count: 3},
		"count 0":                     {Width: 0.3},
		"401 sweeps":                  {Count: 401},
		"0 beams":                     {Count: 3, Spacing: 1},
		"spacing 0 m":                 {Count: 3, Beams: []float64{0}},
		"place 1: beam 2":             {Count: 3, Spacing: 1, Beams: []float64{0}, Order: []int{2}},
		"place 4 is left out":         {Count: 3, Spacing: 1, Beams: []float64{0}, LeftOut: []int{4}},
		"all 1 places":                {Count: 1, Beams: []float64{0}, LeftOut: []int{1}},
		"2 depths for 1 beams":        {Count: 3, Spacing: 1, Beams: []float64{0}, Depths: []float64{0, 0}},
		"sweep 1, 60 m right":         {Each: []Sweep{{Right: 60, Width: 1}}},
		"sweep 1, NaN m behind":       {Each: []Sweep{{Behind: math.NaN(), Width: 1}}},
		"sweep 1, 0 m wide":           {Each: []Sweep{{}}},
		"0.4 m wide when worn":        {Each: []Sweep{{Width: 0.3, Worn: 0.4}}},
		"5° between its wings":        {Each: []Sweep{{Width: 0.3, Angle: 5}}},
		"sweep 1, 2 m deep":           {Each: []Sweep{{Width: 0.3, Depth: 2}}},
		"sweep 1, -0.3 m wide: must ": {Each: []Sweep{{Width: -0.3}}},
	} {
		if err := bad.Validate(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%+v: %v, want %q", bad, err, want)
		}
	}
	im := Implement{Width: 2, Sweeps: l}
	if im.OfWidth(3).Sweeps.Known() {
		t.Error("the sweeps of another width are those described")
	}
	im.Sweeps.Spacing = 0
	if im.Validate() == nil {
		t.Error("an implement with a wrong layout is taken")
	}
	if p := (Mount{Trailed: true, BarBehind: 0.9, Drawbar: 3}).Pivot(); p != 0.9 {
		t.Errorf("trailed: pivot %g", p)
	}
	if p := (Mount{AntennaAhead: 0.5, Hitch: 1.7, BarBehind: 1.1}).Pivot(); math.Abs(p-2.3) > 1e-12 {
		t.Errorf("mounted: pivot %g", p)
	}
}
