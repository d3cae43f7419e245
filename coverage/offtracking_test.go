package coverage

import (
	"math"
	"slices"
	"strings"
	"testing"

	"balk/coverage/drive"
	"balk/coverage/pattern"
	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// What is cut in a bend: a trailed set leaves the outer edge of the tractor's way.
func TestMountReachesTheBalance(t *testing.T) {
	field := trial.Rectangle(0, 0, 100, 60)
	s := trial.Sketch{Rings: [][]plane.XY{field}, Lines: [][]plane.XY{trial.Straight(plane.XY{X: 10, Y: 30}, plane.XY{X: 90, Y: 30}, 2)}}
	// the bar stays 7 m behind: it works 80 m all the same, from 3 m on
	r := checked(t, s, drive.Work{Width: 6, Mount: rig.Mount{Trailed: true, Hitch: 2, Drawbar: 4, BarBehind: 1}})
	if got := r.Balance.Once; math.Abs(got-480) > 1e-6 {
		t.Errorf("worked %.6f m², want 480 m²", got)
	}
	if r.Passes[0].Line[0].Dist(r.Passes[0].Line[len(r.Passes[0].Line)-1]) < 79.9 {
		t.Error("the pass is shorter than driven")
	}
}

// TestBendsBetweenFixes: a bar of 6 m that is carried 2 m behind the antenna, on an arc of 8 m. Its ends run on √(11² + 2²) m and √(5² + 2²) m, and work half
// the difference of their squares for each radian, 48 m². With fixes 2 m apart the ends lie up to 9 cm beside the chords.
func TestBendsBetweenFixes(t *testing.T) {
	for _, step := range []float64{0.25, 2} {
		var arc []plane.XY
		for s := 0.0; s <= 36; s += step {
			sin, cos := math.Sincos(s / 8)
			arc = append(arc, plane.XY{X: 50 + 8*cos, Y: 50 + 8*sin})
		}
		s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 100)}, Lines: [][]plane.XY{arc}}
		if r := checked(t, s, drive.Work{Width: 6, Mount: rig.Mount{Hitch: 2}}); math.Abs(r.Balance.Once-48*4.5) > 0.2 {
			t.Errorf("fixes %g m apart: worked %.2f m², want 216 m²", step, r.Balance.Once)
		}
	}
}

// Half of the sections are off: 3 of 6 m work, their middle 1.5 m right of the
// antenna's line. Driving east, that is south of it.
func TestSectionsOffShiftTheSwath(t *testing.T) {
	field := trial.Rectangle(0, 0, 100, 60)
	line := trial.Straight(plane.XY{X: 0, Y: 30}, plane.XY{X: 100, Y: 30}, 2)
	s := trial.Sketch{Rings: [][]plane.XY{field}, Lines: [][]plane.XY{line}}
	track := s.Track()
	for range line {
		track.Width, track.Offset = append(track.Width, 3), append(track.Offset, 1.5)
	}
	track.Bar = 6 // the machine's description of itself; all of the log is narrower
	r, err := Check(t.Context(), s.Field(), []geo.Track{track}, drive.Work{Width: 6})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(r.Balance.Once-300) > 1e-6 {
		t.Errorf("worked %.6f m², want 300 m²", r.Balance.Once)
	}
	for sections, odd := range map[[2]float64]bool{{3, 3}: false, {4, 2}: true} {
		r, err := Check(t.Context(), s.Field(), []geo.Track{track}, drive.Work{Width: 6, Sections: sections[:]})
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Contains(trial.Say(r.Findings), "51 working fixes have a width that no sections"); got != odd {
			t.Errorf("sections %v: odd width %t, want %t", sections, got, odd)
		}
	}
	// Worked is y = 27 to 30. What is missed lies 27 m below and 30 m above.
	if len(r.Strips) != 2 || math.Abs(r.Strips[0].Area-3000) > 0.1 || math.Abs(r.Strips[1].Area-2700) > 0.1 {
		t.Errorf("strips %+v", r.Strips)
	}
}

// A section that was never down is told with the end of the bar at which it is, where the log says which works.
func TestSectionNeverDownHasAnEnd(t *testing.T) {
	for name, c := range map[string]struct {
		offset float64 // m to the right, of what works
		want   string
	}{
		"the left one":  {1, pattern.LeftEnd},
		"the right one": {-1, pattern.RightEnd},
	} {
		s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 120, 48)}}
		for row := range 8 {
			from, to := 0.0, 120.0
			if row%2 == 1 {
				from, to = to, from
			}
			s.Lines = append(s.Lines, trial.Straight(plane.XY{X: from, Y: 3 + 6*float64(row)}, plane.XY{X: to, Y: 3 + 6*float64(row)}, 2))
		}
		var tracks []geo.Track
		for _, line := range s.Lines {
			track := trial.Sketch{Rings: s.Rings, Lines: [][]plane.XY{line}}.Track()
			for range line {
				track.Width, track.Offset = append(track.Width, 4), append(track.Offset, c.offset)
			}
			track.Bar = 6
			tracks = append(tracks, track)
		}
		r, err := Check(t.Context(), s.Field(), tracks, drive.Work{Width: 6})
		if err != nil {
			t.Fatal(err)
		}
		k := slices.IndexFunc(r.Patterns, func(p pattern.Pattern) bool { return p.Kind == pattern.Section })
		if k < 0 || r.Patterns[k].End != c.want || math.Abs(r.Patterns[k].By-2) > 1e-6 {
			t.Errorf("%s: %+v, want 2 m at the end %q", name, r.Patterns, c.want)
		}
	}
}

// A bar that is another by the log than what is given is said. Sections lifted now and
// then are no news but where no side of them is logged, and a wild value is no bar.
func TestWidthsOtherThanGiven(t *testing.T) {
	line := trial.Straight(plane.XY{X: 0, Y: 30}, plane.XY{X: 100, Y: 30}, 2)
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 60)}, Lines: [][]plane.XY{line}}
	for _, c := range []struct {
		name          string
		logged, first float64
		want          string
	}{
		{"as given", 6, 6, ""},
		{"as given, in feet of one decimal", 6.0046, 6.0046, ""},
		{"half of it lifted at times", 6, 3, "at 1 of 51 fixes at work a part of the bar was lifted, and the log does not say on which side"},
		{"never as wide", 3, 2, "the log has a bar of 3.00 m, given is one of 6.00 m: what is given counts"},
		{"wider once", 6, 9, "1 of 51 logged widths are above the 6.00 m of the whole bar"},
		{"never logged", 0, 0, ""},
	} {
		track := s.Track()
		for range line {
			track.Width = append(track.Width, c.logged)
		}
		track.Width[0] = c.first
		r, err := Check(t.Context(), s.Field(), []geo.Track{track}, drive.Work{Width: 6, Working: drive.EvidenceAll})
		if err != nil {
			t.Fatal(err)
		}
		if got := trial.Say(r.Findings); c.want == "" && strings.Contains(got, "bar") || !strings.Contains(got, c.want) {
			t.Errorf("%s: said %q, want %q", c.name, got, c.want)
		}
	}
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
			s := trial.Slope()
			r, err := Check(t.Context(), s.Field(), []geo.Track{s.Headed(c.angle, c.sensor)}, drive.Work{Width: 5})
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
	s := trial.Slope()
	m := rig.Mount{Trailed: true, Hitch: 2, Drawbar: 4}
	r, err := Check(t.Context(), s.Field(), []geo.Track{s.Track()}, drive.Work{Width: 5, Mount: m, Drift: drive.Drift{Angle: 3, Downhill: 180}})
	if err != nil {
		t.Fatal(err)
	}
	shift, narrow := 6*math.Sin(3*math.Pi/180), 5*math.Cos(3*math.Pi/180)
	if math.Abs(r.Crab.Shift-shift) > 1e-9 || !r.Crab.Applied {
		t.Errorf("%+v, want a shift of %.4f m", *r.Crab, shift)
	}
	for i, p := range r.Passes {
		y := r.Local.XY(trial.Paper.Point(plane.XY{X: 100, Y: 5 + 5*float64(i)})).Y - shift
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
	s := trial.Slope()
	_, err := Check(t.Context(), s.Field(), []geo.Track{s.Track()}, drive.Work{Width: 5, Drift: drive.Drift{Measure: true}})
	if err == nil || !strings.Contains(err.Error(), "crab angle cannot be measured") {
		t.Errorf("%v", err)
	}
}

// A course is the way driven once more: it is no crab angle of nought, and where it
// lags or scatters the bar still stands square to the way.
func TestCourseIsNoHeading(t *testing.T) {
	s := trial.Slope()
	want := checkTracks(t, s, drive.Work{Width: 5}, s.Track()).Balance
	for _, off := range []float64{0, 3} {
		track := s.Headed(off, 0)
		track.Course = true
		r := checkTracks(t, s, drive.Work{Width: 5}, track)
		if r.Crab != nil {
			t.Errorf("course %g° off the way: crab angle %+v, want none", off, *r.Crab)
		}
		if r.Balance != want {
			t.Errorf("course %g° off the way: %+v, without it %+v", off, r.Balance, want)
		}
		_, err := Check(t.Context(), s.Field(), []geo.Track{track}, drive.Work{Width: 5, Drift: drive.Drift{Measure: true}})
		if err == nil || !strings.Contains(err.Error(), "which a course is not") {
			t.Errorf("course %g° off the way: to be measured: %v", off, err)
		}
	}
}
