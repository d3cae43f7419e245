package coverage

import (
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"balk/geo"
	"balk/geo/plane"
)

// runsOf are the passes of tracks.
func runsOf(t testing.TB, f geo.Field, tracks []geo.Track, w Work) []run {
	t.Helper()
	log, err := Read(t.Context(), f.OnPlane(f.Local()), f.Local(), tracks, w, asJudged)
	if err != nil {
		t.Fatal(err)
	}
	return log.Runs
}

func checkTracks(t *testing.T, s sketch, w Work, tracks ...geo.Track) Result {
	t.Helper()
	r, err := Check(t.Context(), s.field(), tracks, w)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// near compares m² and m; the sketches go through degrees and back.
func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.9g, want %.9g within %.2g", what, got, want, tol)
	}
}

const square100 = 1e-4 // m² of tolerance on sketches of a hectare

func TestDriftLeavesOneStrip(t *testing.T) {
	// 100 × 18 m, three passes of 6 m, the last one 0.5 m too far out.
	s := sketch{rings: [][]plane.XY{rectangle(0, 0, 100, 18)}}
	for _, y := range []float64{3, 9, 15.5} {
		s.lines = append(s.lines, straight(plane.XY{Y: y}, plane.XY{X: 100, Y: y}, 2))
	}
	r := s.check(t, Work{Width: 6})
	near(t, "missed", r.Balance.Missed, 50, square100)
	near(t, "outside", r.Balance.Outside, 50, square100)
	if len(r.Strips) != 1 {
		t.Fatalf("got %d strips, want 1", len(r.Strips))
	}
	g := r.Strips[0]
	near(t, "area", g.Area, 50, square100)
	near(t, "length", g.Length, 100, 1e-4)
	near(t, "mean width", g.MeanWidth, 0.5, 1e-4)
	near(t, "greatest width", g.MaxWidth, 0.5, 2e-3)
	near(t, "bearing", float64(g.Bearing), 90, 0.01)
	if !reflect.DeepEqual(g.Passes, []int{2, 3}) || g.Cause != CauseDrift || g.Number != 1 {
		t.Errorf("got passes %v, cause %q, number %d; want [2 3], drift, 1", g.Passes, g.Cause, g.Number)
	}
}

// TestApproach: the strip of a drift is found along the nearer neighbour, from where that began, on the side
// it lies as seen driving; reading the log backwards counts from the other end and swaps the sides.
func TestApproach(t *testing.T) {
	s := sketch{rings: [][]plane.XY{rectangle(0, 0, 100, 18)}}
	for _, y := range []float64{3, 9, 15.3} {
		s.lines = append(s.lines, straight(plane.XY{Y: y}, plane.XY{X: 100, Y: y}, 2))
	}
	for _, c := range []struct {
		name string
		s    sketch
		back bool
	}{{"as driven", s, false}, {"backwards", s.reversed(), true}} {
		r := c.s.check(t, Work{Width: 6})
		if len(r.Strips) != 1 {
			t.Fatalf("%s: %d strips, want 1", c.name, len(r.Strips))
		}
		// The strip lies from y = 12 to 12.3, its place anywhere along it.
		a, x := r.Strips[0].Approach, paper.XY(r.Strips[0].At).X
		pass := r.Passes[a.Pass-1]
		below := paper.XY(r.Local.Point(pass.Line[0])).Y < 12
		if c.back {
			x = 100 - x
		}
		near(t, c.name+", aside", a.Aside, 3.15, 1e-3)
		near(t, c.name+", along", a.Along, x, 1e-3)
		if want := below != c.back; a.Left != want {
			t.Errorf("%s: left of pass %d, which lies below: %t; got %t, want %t", c.name, a.Pass, below, a.Left, want)
		}
	}
}

func TestTwoLevelsOfMissed(t *testing.T) {
	// Pitch 5.9 m at 6 m working width and 0.2 m overlap: credited 5.8, so 0.1 m
	// of every seam is lapped thinner than planned, and untouched nowhere.
	s := sketch{rings: [][]plane.XY{rectangle(0, 0.1, 100, 17.7)}}
	for _, y := range []float64{3, 8.9, 14.8} {
		s.lines = append(s.lines, straight(plane.XY{Y: y}, plane.XY{X: 100, Y: y}, 2))
	}
	r := s.check(t, Work{Width: 6, Overlap: 0.2})
	near(t, "missed at credited width", r.Balance.Missed, 20, square100)
	near(t, "missed at full width", r.FullMissed, 0, square100)
}

func TestLogGapIsUnknown(t *testing.T) {
	line := append(straight(plane.XY{X: 0, Y: 5}, plane.XY{X: 40, Y: 5}, 2), straight(plane.XY{X: 70, Y: 5}, plane.XY{X: 100, Y: 5}, 2)...)
	s := sketch{rings: [][]plane.XY{rectangle(0, 0, 100, 10)}, lines: [][]plane.XY{line}}
	r := s.check(t, Work{Width: 10})
	near(t, "unknown", r.Balance.Unknown, 300, square100)
	near(t, "missed", r.Balance.Missed, 0, square100)
	near(t, "once", r.Balance.Once, 700, square100)
	if r.Passes[0].Gaps != 1 || len(r.Passes) != 1 {
		t.Errorf("got %d passes, %d gaps; want 1, 1", len(r.Passes), r.Passes[0].Gaps)
	}
	// A wider limit bridges it.
	near(t, "once with a 40 m limit", s.check(t, Work{Width: 10, GapDist: 40}).Balance.Once, 1000, square100)
	// The same gap by time: 10 m in 20 s.
	line = straight(plane.XY{X: 0, Y: 5}, plane.XY{X: 100, Y: 5}, 2)
	line = append(line[:20:20], line[25:]...)
	var times []float64
	for i := range line {
		times = append(times, 1.7e9+float64(i))
		if i >= 20 {
			times[i] += 20
		}
	}
	s.lines, s.times = [][]plane.XY{line}, [][]float64{times}
	near(t, "unknown by time", s.check(t, Work{Width: 10}).Balance.Unknown, 120, square100)
}

func TestUnloggedWorkStateIsUnknown(t *testing.T) {
	s := sketch{rings: [][]plane.XY{rectangle(0, 0, 100, 10)}, lines: [][]plane.XY{straight(plane.XY{Y: 5}, plane.XY{X: 100, Y: 5}, 2)}}
	state := make([]geo.WorkState, 51)
	for i := range state {
		switch {
		case i < 10 || i > 45:
			state[i] = geo.Lifted
		case i < 20 || i > 24:
			state[i] = geo.Working
		}
	}
	s.state = [][]geo.WorkState{state}
	r := s.check(t, Work{Width: 10, Headland: 20})
	// the tool was lowered and lifted halfway between two fixes: a metre more at each end
	near(t, "once", r.Balance.Once, 10*(2*9+2*20+1+1), square100)
	near(t, "unknown", r.Balance.Unknown, 10*12, square100)
	near(t, "missed", r.Balance.Missed, 10*(19+9), square100)
	near(t, "lifted in headland", r.Headland.Lifted, 10*(19+9), 1e-3)
	near(t, "headland", r.Headland.Area, 1000, square100)
	if len(r.LiftedLines) != 2 {
		t.Errorf("got %d lifted lines, want 2", len(r.LiftedLines))
	}
	if len(r.Strips) != 2 || r.Strips[0].Cause != CauseUndriven && r.Strips[0].Cause != CauseLift || !r.Strips[0].Headland {
		t.Errorf("got strips %+v", r.Strips)
	}
}

// A switch between two fixes leaves open where it was. The strip of 3 m behind a
// pass that ends somewhere between fixes 8 m apart is possible: a third of it is likely; logged at 1 m, it is
// certain.
func TestSwitchBetweenFixesIsNotSure(t *testing.T) {
	for _, c := range []struct {
		step   float64
		strips int
		surety Surety
	}{{8, 1, SuretyPossible}, {1, 1, SuretyCertain}} {
		line := straight(plane.XY{Y: 5}, plane.XY{X: 104, Y: 5}, c.step)
		s := sketch{rings: [][]plane.XY{rectangle(0, 0, 95, 10)}, lines: [][]plane.XY{line}}
		state := make([]geo.WorkState, len(line))
		for i, p := range line {
			state[i] = geo.Working
			if p.X > 92-c.step/2 {
				state[i] = geo.Lifted
			}
		}
		s.state = [][]geo.WorkState{state}
		r := s.check(t, Work{Width: 10, PassError: 0.05})
		near(t, "missed", r.Balance.Missed, 30, 20) // 3 m, or nearly: at 1 m the switch lies halfway as well
		if len(r.Strips) != c.strips || c.strips > 0 && r.Strips[0].Surety != c.surety {
			t.Errorf("a fix every %g m: strips %+v, want %d, %s", c.step, r.Strips, c.strips, c.surety)
		}
	}
}

func TestSpiralCountsByRelap(t *testing.T) {
	// Two rounds on a circle of 20 m: the second round is 125.7 m of travel later.
	line := arc(plane.XY{}, 20, 0, 720, 200)
	s := sketch{rings: [][]plane.XY{rectangle(-40, -40, 40, 40)}, lines: [][]plane.XY{line}}
	// Area of the ring as a polygon of 100 corners; the first and the last bar
	// stand square to a chord.
	step := 2 * math.Pi / 100
	ring := 100 * math.Sin(step) / 2 * (23*23 - 17*17)
	b := s.check(t, Work{Width: 6}).Balance
	near(t, "twice", b.Twice, ring, ring*2e-3)
	near(t, "once", b.Once, 0, ring*2e-3)
	b = s.check(t, Work{Width: 6, Relap: 300}).Balance
	near(t, "once, relap longer than both rounds", b.Once, ring, ring*2e-3)
	near(t, "twice, relap longer than both rounds", b.Twice, 0, square100)
}

func TestBowTieCountsBothTriangles(t *testing.T) {
	// A bar of 6 m turns by 30° about a point 1 m left of its middle.
	centre := plane.XY{Y: 1}
	line := arc(centre, 1, -90, -60, 1)
	half := 15 * math.Pi / 180
	// Both bars are square to the chord here, so give the headings.
	s := sketch{rings: [][]plane.XY{rectangle(-20, -20, 20, 20)}, lines: [][]plane.XY{line}}
	track := s.track()
	track.Heading = []geo.Bearing{90, 60}
	r := checkTracks(t, s, Work{Width: 6}, track)
	want := math.Sin(2*half) / 2 * (4*4 + 2*2)
	near(t, "once", r.Balance.Once, want, 1e-4*want)
	near(t, "twice", r.Balance.Twice, 0, square100)
}

func TestStops(t *testing.T) {
	// Standing for 30 fixes with 1 cm of noise changes nothing but the merge.
	rng := rand.New(rand.NewPCG(7, 7))
	a, b := straight(plane.XY{Y: 5}, plane.XY{X: 50, Y: 5}, 2), straight(plane.XY{X: 52, Y: 5}, plane.XY{X: 100, Y: 5}, 2)
	s := sketch{rings: [][]plane.XY{rectangle(0, 0, 100, 10)}}
	line := a
	for range 30 {
		line = append(line, plane.XY{X: 50 + 0.01*rng.NormFloat64(), Y: 5 + 0.01*rng.NormFloat64()})
	}
	s.lines = [][]plane.XY{append(line, b...)}
	r := s.check(t, Work{Width: 10, Working: EvidenceAll})
	near(t, "once", r.Balance.Once, 1000, square100)
	near(t, "twice", r.Balance.Twice, 0, square100)
	if len(r.Findings) != 1 || r.Fixes != 51+30-0 {
		t.Errorf("got %d fixes, findings %v; want 81 and the merge", r.Fixes, r.Findings)
	}
}

func TestOutAndBackIsTwice(t *testing.T) {
	line := append(straight(plane.XY{Y: 5}, plane.XY{X: 100, Y: 5}, 2), straight(plane.XY{X: 98, Y: 5}, plane.XY{Y: 5}, 2)...)
	s := sketch{rings: [][]plane.XY{rectangle(0, 0, 100, 10)}, lines: [][]plane.XY{line}}
	b := s.check(t, Work{Width: 10, Relap: 20}).Balance
	// Near the turn the second covering comes within 20 m of travel: the last
	// quad of 2 m counts once, and so on back to 10 m before the turn.
	near(t, "twice", b.Twice, 10*90, 21)
	near(t, "all", b.Once+b.Twice, 1000, square100)
}

func TestOddFixesAreSetAside(t *testing.T) {
	line := straight(plane.XY{Y: 5}, plane.XY{X: 100, Y: 5}, 2)
	s := sketch{rings: [][]plane.XY{rectangle(0, 0, 100, 10)}, lines: [][]plane.XY{line}}
	track := s.track()
	flat := track.Line.FlatCoords()
	flat[3*7], flat[3*20+1], flat[3*30] = math.NaN(), math.Inf(1), 25
	r := checkTracks(t, s, Work{Width: 10}, track)
	near(t, "once", r.Balance.Once, 1000, square100)
	lost := 0
	for _, f := range r.Findings {
		if f.Lost {
			lost++
		}
	}
	if lost != 2 {
		t.Errorf("got findings %v, want one for 2 fixes without a place and one for 1 far away", r.Findings)
	}
}

func TestValidate(t *testing.T) {
	good := Work{Width: 6, Overlap: 0.2}
	if err := good.Validate(); err != nil {
		t.Error(err)
	}
	for name, w := range map[string]Work{
		"no width":           {},
		"overlap too large":  {Width: 6, Overlap: 6.5},
		"overlap below zero": {Width: 6, Overlap: -1},
		"width not a number": {Width: math.NaN()},
		"overlap not finite": {Width: 6, Overlap: math.Inf(1)},
		"rounds below zero":  {Width: 6, Rounds: -1},
		"relap below zero":   {Width: 6, Relap: -1},
		"headland too deep":  {Width: 6, Headland: 1e9},
	} {
		if w.Validate() == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

// Drawn lines count as work throughout, which is said unless it was asked for.
func TestAllAsWorkIsSaid(t *testing.T) {
	s := sketch{rings: [][]plane.XY{rectangle(0, 0, 100, 10)}, lines: [][]plane.XY{straight(plane.XY{Y: 5}, plane.XY{X: 100, Y: 5}, 2)}}
	r := s.check(t, Work{Width: 10})
	if len(r.Findings) != 1 || !strings.Contains(r.Findings[0].What, "neither work state nor times are logged: all the way of 51 fixes") || r.Findings[0].Lost {
		t.Errorf("got findings %v, want that all is taken as work", r.Findings)
	}
	for _, asked := range []Evidence{EvidenceAll, EvidenceLogged} {
		if r := s.check(t, Work{Width: 10, Working: asked}); len(r.Findings) != 0 {
			t.Errorf("--working %s: got findings %v, want none", asked, r.Findings)
		}
	}
}
