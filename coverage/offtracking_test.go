package coverage

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
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
				tr.place(rig.Mount{Trailed: true, Hitch: c.h, Drawbar: c.l}, plane.XY{}, 0)
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
	tr.place(m, plane.XY{}, 0)
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
	tr.place(rig.Mount{AntennaAhead: a, Hitch: a + behind}, plane.XY{}, 0) // bar 2 m behind the axle, rigid
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
	tr.place(rig.Mount{Trailed: true, Hitch: 2, Drawbar: 4, BarBehind: 1}, plane.XY{}, 0)
	for k, f := range tr.facing {
		if math.Abs(f.Y) > 0.02 {
			t.Fatalf("fix %d: bar faces %v, want east", k, f)
		}
	}
}

// What is cut in a bend: a trailed set leaves the outer edge of the tractor's way.
func TestMountReachesTheBalance(t *testing.T) {
	field := rectangle(0, 0, 100, 60)
	s := sketch{rings: [][]plane.XY{field}, lines: [][]plane.XY{straight(plane.XY{X: 10, Y: 30}, plane.XY{X: 90, Y: 30}, 2)}}
	// the bar stays 7 m behind: it works 80 m all the same, from 3 m on
	r := s.check(t, Work{Width: 6, Mount: rig.Mount{Trailed: true, Hitch: 2, Drawbar: 4, BarBehind: 1}})
	if got := r.Balance.Once; math.Abs(got-480) > 1e-6 {
		t.Errorf("worked %.6f m², want 480 m²", got)
	}
	if r.Passes[0].Line[0].Dist(r.Passes[0].Line[len(r.Passes[0].Line)-1]) < 79.9 {
		t.Error("the pass is shorter than driven")
	}
}

func TestMountIsRefused(t *testing.T) {
	for _, c := range []struct {
		name string
		m    rig.Mount
	}{
		{"trailed without a drawbar", rig.Mount{Trailed: true}},
		{"rigid with a drawbar", rig.Mount{Drawbar: 4}},
		{"antenna behind the axle", rig.Mount{AntennaAhead: -1}},
		{"a hitch of 100 m", rig.Mount{Hitch: 100}},
		{"no number", rig.Mount{BarRight: math.NaN()}},
	} {
		if err := (Work{Width: 5, Mount: c.m}).Validate(); err == nil {
			t.Errorf("%s: taken", c.name)
		}
	}
}

// Half of the sections are off: 3 of 6 m work, their middle 1.5 m right of the
// antenna's line. Driving east, that is south of it.
func TestSectionsOffShiftTheSwath(t *testing.T) {
	field := rectangle(0, 0, 100, 60)
	line := straight(plane.XY{X: 0, Y: 30}, plane.XY{X: 100, Y: 30}, 2)
	s := sketch{rings: [][]plane.XY{field}, lines: [][]plane.XY{line}}
	track := s.track()
	for range line {
		track.Width, track.Offset = append(track.Width, 3), append(track.Offset, 1.5)
	}
	track.Bar = 6 // the machine's description of itself; all of the log is narrower
	r, err := Check(t.Context(), s.field(), []geo.Track{track}, Work{Width: 6})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(r.Balance.Once-300) > 1e-6 {
		t.Errorf("worked %.6f m², want 300 m²", r.Balance.Once)
	}
	for sections, odd := range map[[2]float64]bool{{3, 3}: false, {4, 2}: true} {
		r, err := Check(t.Context(), s.field(), []geo.Track{track}, Work{Width: 6, Sections: sections[:]})
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Contains(say(r.Findings), "51 working fixes have a width that no sections"); got != odd {
			t.Errorf("sections %v: odd width %t, want %t", sections, got, odd)
		}
	}
	// Worked is y = 27 to 30. What is missed lies 27 m below and 30 m above.
	if len(r.Strips) != 2 || math.Abs(r.Strips[0].Area-3000) > 0.1 || math.Abs(r.Strips[1].Area-2700) > 0.1 {
		t.Errorf("strips %+v", r.Strips)
	}
}

// A bar that is another by the log than what is given is said. Sections lifted now and
// then are no news, and a wild value is no bar.
func TestWidthsOtherThanGiven(t *testing.T) {
	line := straight(plane.XY{X: 0, Y: 30}, plane.XY{X: 100, Y: 30}, 2)
	s := sketch{rings: [][]plane.XY{rectangle(0, 0, 100, 60)}, lines: [][]plane.XY{line}}
	for _, c := range []struct {
		name          string
		logged, first float64
		want          string
	}{
		{"as given", 6, 6, ""},
		{"as given, in feet of one decimal", 6.0046, 6.0046, ""},
		{"half of it lifted at times", 6, 3, ""},
		{"never as wide", 3, 2, "the log has a bar of 3.00 m, given is one of 6.00 m: what is given counts"},
		{"wider once", 6, 9, "1 of 51 logged widths are above the 6.00 m of the whole bar"},
		{"never logged", 0, 0, ""},
	} {
		track := s.track()
		for range line {
			track.Width = append(track.Width, c.logged)
		}
		track.Width[0] = c.first
		r, err := Check(t.Context(), s.field(), []geo.Track{track}, Work{Width: 6, Working: EvidenceAll})
		if err != nil {
			t.Fatal(err)
		}
		if got := say(r.Findings); c.want == "" && strings.Contains(got, "bar") || !strings.Contains(got, c.want) {
			t.Errorf("%s: said %q, want %q", c.name, got, c.want)
		}
	}
}

// say joins what a trail's placing found.
func say(found []geo.Finding) string {
	var b strings.Builder
	for _, f := range found {
		b.WriteString(f.What + "\n")
	}
	return b.String()
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
			got := say(circleTrail(c.radius, 0.5, 200).place(c.m, plane.XY{}, 0))
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
			tr.at, tr.state = append(tr.at, plane.XY{X: x}), append(tr.state, s)
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
	if got := say(back().place(m, plane.XY{}, 0)); !strings.Contains(got, fmt.Sprintf("pushed back 1 times, first at fix %.0f, 00:0", 40/step+2)) {
		t.Errorf("said %q", got)
	}
	m.MayReverse = true
	tr := back()
	if got := say(tr.place(m, plane.XY{}, 0)); strings.Contains(got, "pushed back") {
		t.Errorf("it may, but said %q", got)
	}
	for k, f := range tr.facing {
		if f.Dist(plane.XY{X: 1}) > 1e-6 {
			t.Fatalf("fix %d: bar faces %v, want east all the way", k, f)
		}
	}
}

// slope has passes east and west, 5 m apart.
func slope() sketch {
	s := sketch{rings: [][]plane.XY{rectangle(0, 0, 200, 60)}}
	for i := range 10 {
		y := 5 + 5*float64(i)
		a, b := plane.XY{X: 5, Y: y}, plane.XY{X: 195, Y: y}
		if i%2 == 1 {
			a, b = b, a
		}
		s.lines = append(s.lines, straight(a, b, 2))
	}
	return s
}

// headed adds the headings of a set that crabs by angle degrees where downhill is
// south, and of a sensor that looks so many degrees to the left.
func (s sketch) headed(angle, sensor float64) geo.Track {
	track := s.track()
	for _, line := range s.lines {
		east := line[1].X > line[0].X
		for range line {
			b := 90 - angle - sensor // driven east: uphill is left, a smaller bearing
			if !east {
				b = 270 + angle - sensor
			}
			track.Heading = append(track.Heading, geo.Bearing(b))
		}
	}
	return track
}

// Passes driven both ways tell the crab angle from a sensor out of line.
func TestCrabIsMeasured(t *testing.T) {
	for _, c := range []struct {
		name          string
		angle, sensor float64
		down          float64
	}{
		{"slope falls to the south", 2, 0, 180},
		{"slope falls to the north", -3, 0, 0},
		{"sensor out of line, no slope", 0, 1.5, -1},
		{"both", 2, -1, 180},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := slope()
			r, err := Check(t.Context(), s.field(), []geo.Track{s.headed(c.angle, c.sensor)}, Work{Width: 5})
			if err != nil {
				t.Fatal(err)
			}
			if r.Crab == nil {
				t.Fatal("not measured")
			}
			got := *r.Crab
			if math.Abs(got.Angle-math.Abs(c.angle)) > 0.005 || math.Abs(got.Sensor-c.sensor) > 0.005 || got.Passes != [2]int{5, 5} || got.Applied {
				t.Errorf("measured %+v, want %g° and sensor %g°", got, math.Abs(c.angle), c.sensor)
			}
			if d := math.Abs(math.Mod(float64(got.Downhill)-c.down+540, 360) - 180); c.down >= 0 && d > 0.01 {
				t.Errorf("downhill %g°, want %g°", got.Downhill, c.down)
			}
		})
	}
}

// On a slope falling to the south a trailed bar 6 m behind the hitch runs
// 6·sin 3° lower than the antenna, whichever way the set drives, and its swath is
// narrower by cos 3°.
func TestCrabMovesTheBarDownhill(t *testing.T) {
	s := slope()
	m := rig.Mount{Trailed: true, Hitch: 2, Drawbar: 4}
	r, err := Check(t.Context(), s.field(), []geo.Track{s.track()}, Work{Width: 5, Mount: m, Drift: Drift{Angle: 3, Downhill: 180}})
	if err != nil {
		t.Fatal(err)
	}
	shift, narrow := 6*math.Sin(3*math.Pi/180), 5*math.Cos(3*math.Pi/180)
	if math.Abs(r.Crab.Shift-shift) > 1e-9 || !r.Crab.Applied {
		t.Errorf("%+v, want a shift of %.4f m", *r.Crab, shift)
	}
	for i, p := range r.Passes {
		y := r.Local.XY(paper.Point(plane.XY{X: 100, Y: 5 + 5*float64(i)})).Y - shift
		for _, q := range p.Line[5 : len(p.Line)-5] {
			if math.Abs(q.Y-y) > 3e-3 { // sketch and field have planes of their own, 1e-5 rad apart
				t.Fatalf("pass %d: bar at y %.4f m, want %.4f m", i+1, q.Y, y)
			}
		}
		if math.Abs(p.Area/p.Length-narrow) > 1e-3 {
			t.Errorf("pass %d: swath %.4f m wide, want %.4f m", i+1, p.Area/p.Length, narrow)
		}
	}
}

func TestCrabCannotBeMeasured(t *testing.T) {
	s := slope()
	_, err := Check(t.Context(), s.field(), []geo.Track{s.track()}, Work{Width: 5, Drift: Drift{Measure: true}})
	if err == nil || !strings.Contains(err.Error(), "crab angle cannot be measured") {
		t.Errorf("%v", err)
	}
}

// A course is the way driven once more: it is no crab angle of nought, and where it
// lags or scatters the bar still stands square to the way.
func TestCourseIsNoHeading(t *testing.T) {
	s := slope()
	want := checkTracks(t, s, Work{Width: 5}, s.track()).Balance
	for _, off := range []float64{0, 3} {
		track := s.headed(off, 0)
		track.Course = true
		r := checkTracks(t, s, Work{Width: 5}, track)
		if r.Crab != nil {
			t.Errorf("course %g° off the way: crab angle %+v, want none", off, *r.Crab)
		}
		if r.Balance != want {
			t.Errorf("course %g° off the way: %+v, without it %+v", off, r.Balance, want)
		}
		_, err := Check(t.Context(), s.field(), []geo.Track{track}, Work{Width: 5, Drift: Drift{Measure: true}})
		if err == nil || !strings.Contains(err.Error(), "which a course is not") {
			t.Errorf("course %g° off the way: to be measured: %v", off, err)
		}
	}
}
