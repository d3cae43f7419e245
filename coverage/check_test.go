package coverage

import (
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"
)

func checkTracks(t *testing.T, s trial.Sketch, w drive.Work, tracks ...geo.Track) Result {
	t.Helper()
	r, err := Check(t.Context(), s.Field(), tracks, w)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestDriftLeavesOneStrip(t *testing.T) {
	// 100 × 18 m, three passes of 6 m, the last one 0.5 m too far out.
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 18)}}
	for _, y := range []float64{3, 9, 15.5} {
		s.Lines = append(s.Lines, trial.Straight(plane.XY{Y: y}, plane.XY{X: 100, Y: y}, 2))
	}
	r := checked(t, s, drive.Work{Width: 6})
	trial.Near(t, "missed", r.Balance.Missed, 50, trial.Square100)
	trial.Near(t, "outside", r.Balance.Outside, 50, trial.Square100)
	if len(r.Strips) != 1 {
		t.Fatalf("got %d strips, want 1", len(r.Strips))
	}
	g := r.Strips[0]
	trial.Near(t, "area", g.Area, 50, trial.Square100)
	trial.Near(t, "length", g.Length, 100, 1e-4)
	trial.Near(t, "mean width", g.MeanWidth, 0.5, 1e-4)
	trial.Near(t, "greatest width", g.MaxWidth, 0.5, 2e-3)
	trial.Near(t, "bearing", float64(g.Bearing), 90, 0.01)
	if !reflect.DeepEqual(g.Passes, []int{2, 3}) || g.Cause != CauseDrift || g.Number != 1 {
		t.Errorf("got passes %v, cause %q, number %d; want [2 3], drift, 1", g.Passes, g.Cause, g.Number)
	}
}

// TestApproach: the strip of a drift is found along the nearer neighbour, from where that began, on the side
// it lies as seen driving; reading the log backwards counts from the other end and swaps the sides.
func TestApproach(t *testing.T) {
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 18)}}
	for _, y := range []float64{3, 9, 15.3} {
		s.Lines = append(s.Lines, trial.Straight(plane.XY{Y: y}, plane.XY{X: 100, Y: y}, 2))
	}
	for _, c := range []struct {
		name string
		s    trial.Sketch
		back bool
	}{{"as driven", s, false}, {"backwards", s.Reversed(), true}} {
		r := checked(t, c.s, drive.Work{Width: 6})
		if len(r.Strips) != 1 {
			t.Fatalf("%s: %d strips, want 1", c.name, len(r.Strips))
		}
		// The strip lies from y = 12 to 12.3, its place anywhere along it.
		a, x := r.Strips[0].Approach, trial.Paper.XY(r.Strips[0].At).X
		pass := r.Passes[a.Pass-1]
		below := trial.Paper.XY(r.Local.Point(pass.Line[0])).Y < 12
		if c.back {
			x = 100 - x
		}
		trial.Near(t, c.name+", aside", a.Aside, 3.15, 1e-3)
		trial.Near(t, c.name+", along", a.Along, x, 1e-3)
		if want := below != c.back; a.Left != want {
			t.Errorf("%s: left of pass %d, which lies below: %t; got %t, want %t", c.name, a.Pass, below, a.Left, want)
		}
	}
}

func TestTwoLevelsOfMissed(t *testing.T) {
	// Pitch 5.9 m at 6 m working width and 0.2 m overlap: credited 5.8, so 0.1 m
	// of every seam is lapped thinner than planned, and untouched nowhere.
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0.1, 100, 17.7)}}
	for _, y := range []float64{3, 8.9, 14.8} {
		s.Lines = append(s.Lines, trial.Straight(plane.XY{Y: y}, plane.XY{X: 100, Y: y}, 2))
	}
	r := checked(t, s, drive.Work{Width: 6, Overlap: 0.2})
	trial.Near(t, "missed at credited width", r.Balance.Missed, 20, trial.Square100)
	trial.Near(t, "missed at full width", r.FullMissed, 0, trial.Square100)
}

func TestLogGapIsUnknown(t *testing.T) {
	line := append(trial.Straight(plane.XY{X: 0, Y: 5}, plane.XY{X: 40, Y: 5}, 2), trial.Straight(plane.XY{X: 70, Y: 5}, plane.XY{X: 100, Y: 5}, 2)...)
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 10)}, Lines: [][]plane.XY{line}}
	r := checked(t, s, drive.Work{Width: 10})
	trial.Near(t, "unknown", r.Balance.Unknown, 300, trial.Square100)
	trial.Near(t, "missed", r.Balance.Missed, 0, trial.Square100)
	trial.Near(t, "once", r.Balance.Once, 700, trial.Square100)
	if r.Passes[0].Gaps != 1 || len(r.Passes) != 1 {
		t.Errorf("got %d passes, %d gaps; want 1, 1", len(r.Passes), r.Passes[0].Gaps)
	}
	// A wider limit bridges it.
	trial.Near(t, "once with a 40 m limit", checked(t, s, drive.Work{Width: 10, GapDist: 40}).Balance.Once, 1000, trial.Square100)
	// The same gap by time: 10 m in 20 s.
	line = trial.Straight(plane.XY{X: 0, Y: 5}, plane.XY{X: 100, Y: 5}, 2)
	line = append(line[:20:20], line[25:]...)
	var times []float64
	for i := range line {
		times = append(times, 1.7e9+float64(i))
		if i >= 20 {
			times[i] += 20
		}
	}
	s.Lines, s.Times = [][]plane.XY{line}, [][]float64{times}
	trial.Near(t, "unknown by time", checked(t, s, drive.Work{Width: 10}).Balance.Unknown, 120, trial.Square100)
}

// TestSilenceOfANightIsNoHole: the tool is in at two fixes 60 m apart; what lies between is a hole in the log up to an hour of silence, and left out beyond that.
//
//	0 ━━━━ 20            80 ━━━━ 100
func TestSilenceOfANightIsNoHole(t *testing.T) {
	for _, c := range []struct {
		name                    string
		from, silence           float64
		missed, unknown, passes float64
	}{
		{"an hour", 80, 3600, 0, 600, 1},
		{"more than an hour", 80, 3601, 600, 0, 2},
		{"a night", 80, 11 * 3600, 600, 0, 2},
		{"a night, and on from where it stood", 20, 11 * 3600, 600, 0, 1},
		{"a night, and on from 20 m farther: no step that is a log gap by its length", 40, 11 * 3600, 400, 200, 1},
	} {
		first, then := trial.Straight(plane.XY{Y: 5}, plane.XY{X: 20, Y: 5}, 2), trial.Straight(plane.XY{X: c.from, Y: 5}, plane.XY{X: c.from + 20, Y: 5}, 2)
		var times []float64
		for i := range len(first) + len(then) {
			if times = append(times, 1.7e9+float64(i)); i >= len(first) {
				times[i] += c.silence - 1
			}
		}
		for _, state := range [][][]geo.WorkState{nil, {slices.Repeat([]geo.WorkState{geo.Working}, len(times))}} {
			s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 10)}, Lines: [][]plane.XY{append(first, then...)}, Times: [][]float64{times}, State: state}
			r := checked(t, s, drive.Work{Width: 10, Working: map[bool]drive.Evidence{true: drive.EvidenceAll, false: drive.EvidenceAny}[state == nil]})
			trial.Near(t, c.name+": missed", r.Balance.Missed, c.missed, trial.Square100)
			trial.Near(t, c.name+": unknown", r.Balance.Unknown, c.unknown, trial.Square100)
			trial.Near(t, c.name+": passes", float64(len(r.Passes)), c.passes, 0)
		}
	}
}

func TestUnloggedWorkStateIsUnknown(t *testing.T) {
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 10)}, Lines: [][]plane.XY{trial.Straight(plane.XY{Y: 5}, plane.XY{X: 100, Y: 5}, 2)}}
	state := make([]geo.WorkState, 51)
	for i := range state {
		switch {
		case i < 10 || i > 45:
			state[i] = geo.Lifted
		case i < 20 || i > 24:
			state[i] = geo.Working
		}
	}
	s.State = [][]geo.WorkState{state}
	r := checked(t, s, drive.Work{Width: 10, Headland: 20})
	// the tool was lowered and lifted halfway between two fixes: a metre more at each end
	trial.Near(t, "once", r.Balance.Once, 10*(2*9+2*20+1+1), trial.Square100)
	trial.Near(t, "unknown", r.Balance.Unknown, 10*12, trial.Square100)
	trial.Near(t, "missed", r.Balance.Missed, 10*(19+9), trial.Square100)
	trial.Near(t, "lifted in headland", r.Headland.Lifted, 10*(19+9), 1e-3)
	trial.Near(t, "headland", r.Headland.Area, 1000, trial.Square100)
	if len(r.LiftedLines) != 2 {
		t.Errorf("got %d lifted lines, want 2", len(r.LiftedLines))
	}
	said := func(begin string) bool {
		return slices.ContainsFunc(r.Findings, func(f geo.Finding) bool { return strings.HasPrefix(f.What, begin) })
	}
	if !said("steps while working without a work state: 6:") || said("log gaps") {
		t.Errorf("five fixes in a row have no state, and no hole is in the log: %v", r.Findings)
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
		line := trial.Straight(plane.XY{Y: 5}, plane.XY{X: 104, Y: 5}, c.step)
		s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 95, 10)}, Lines: [][]plane.XY{line}}
		state := make([]geo.WorkState, len(line))
		for i, p := range line {
			state[i] = geo.Working
			if p.X > 92-c.step/2 {
				state[i] = geo.Lifted
			}
		}
		s.State = [][]geo.WorkState{state}
		r := checked(t, s, drive.Work{Width: 10, PassError: 0.05})
		trial.Near(t, "missed", r.Balance.Missed, 30, 20) // 3 m, or nearly: at 1 m the switch lies halfway as well
		if len(r.Strips) != c.strips || c.strips > 0 && r.Strips[0].Surety != c.surety {
			t.Errorf("a fix every %g m: strips %+v, want %d, %s", c.step, r.Strips, c.strips, c.surety)
		}
	}
}

func TestSpiralCountsByRelap(t *testing.T) {
	// Two rounds on a circle of 20 m: the second round is 125.7 m of travel later.
	line := trial.Arc(plane.XY{}, 20, 0, 720, 200)
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(-40, -40, 40, 40)}, Lines: [][]plane.XY{line}}
	// Area of the ring as a polygon of 100 corners; the first and the last bar
	// stand square to a chord.
	step := 2 * math.Pi / 100
	ring := 100 * math.Sin(step) / 2 * (23*23 - 17*17)
	b := checked(t, s, drive.Work{Width: 6}).Balance
	trial.Near(t, "twice", b.Twice, ring, ring*2e-3)
	trial.Near(t, "once", b.Once, 0, ring*2e-3)
	b = checked(t, s, drive.Work{Width: 6, Relap: 300}).Balance
	trial.Near(t, "once, relap longer than both rounds", b.Once, ring, ring*2e-3)
	trial.Near(t, "twice, relap longer than both rounds", b.Twice, 0, trial.Square100)
}

func TestBowTieCountsBothTriangles(t *testing.T) {
	// A bar of 6 m turns by 30° about a point 1 m left of its middle.
	centre := plane.XY{Y: 1}
	line := trial.Arc(centre, 1, -90, -60, 1)
	half := 15 * math.Pi / 180
	// Both bars are square to the chord here, so give the headings.
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(-20, -20, 20, 20)}, Lines: [][]plane.XY{line}}
	track := s.Track()
	track.Heading = []geo.Bearing{90, 60}
	r := checkTracks(t, s, drive.Work{Width: 6}, track)
	want := math.Sin(2*half) / 2 * (4*4 + 2*2)
	trial.Near(t, "once", r.Balance.Once, want, 1e-4*want)
	trial.Near(t, "twice", r.Balance.Twice, 0, trial.Square100)
}

func TestStops(t *testing.T) {
	// Standing for 30 fixes with 1 cm of noise changes nothing but the merge.
	rng := rand.New(rand.NewPCG(7, 7))
	a, b := trial.Straight(plane.XY{Y: 5}, plane.XY{X: 50, Y: 5}, 2), trial.Straight(plane.XY{X: 52, Y: 5}, plane.XY{X: 100, Y: 5}, 2)
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 10)}}
	line := a
	for range 30 {
		line = append(line, plane.XY{X: 50 + 0.01*rng.NormFloat64(), Y: 5 + 0.01*rng.NormFloat64()})
	}
	s.Lines = [][]plane.XY{append(line, b...)}
	r := checked(t, s, drive.Work{Width: 10, Working: drive.EvidenceAll})
	trial.Near(t, "once", r.Balance.Once, 1000, trial.Square100)
	trial.Near(t, "twice", r.Balance.Twice, 0, trial.Square100)
	if len(r.Findings) != 1 || r.Fixes != 51+30-0 {
		t.Errorf("got %d fixes, findings %v; want 81 and the merge", r.Fixes, r.Findings)
	}
}

func TestOutAndBackIsTwice(t *testing.T) {
	line := append(trial.Straight(plane.XY{Y: 5}, plane.XY{X: 100, Y: 5}, 2), trial.Straight(plane.XY{X: 98, Y: 5}, plane.XY{Y: 5}, 2)...)
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 10)}, Lines: [][]plane.XY{line}}
	b := checked(t, s, drive.Work{Width: 10, Relap: 20}).Balance
	// Near the turn the second covering comes within 20 m of travel: the last
	// quad of 2 m counts once, and so on back to 10 m before the turn.
	trial.Near(t, "twice", b.Twice, 10*90, 21)
	trial.Near(t, "all", b.Once+b.Twice, 1000, trial.Square100)
}

func TestOddFixesAreSetAside(t *testing.T) {
	line := trial.Straight(plane.XY{Y: 5}, plane.XY{X: 100, Y: 5}, 2)
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 10)}, Lines: [][]plane.XY{line}}
	track := s.Track()
	flat := track.Line.FlatCoords()
	flat[3*7], flat[3*20+1], flat[3*30] = math.NaN(), math.Inf(1), 25
	r := checkTracks(t, s, drive.Work{Width: 10}, track)
	trial.Near(t, "once", r.Balance.Once, 1000, trial.Square100)
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

// Drawn lines count as work throughout, which is said unless it was asked for.
func TestAllAsWorkIsSaid(t *testing.T) {
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 10)}, Lines: [][]plane.XY{trial.Straight(plane.XY{Y: 5}, plane.XY{X: 100, Y: 5}, 2)}}
	r := checked(t, s, drive.Work{Width: 10})
	if len(r.Findings) != 1 || !strings.Contains(r.Findings[0].What, "neither work state nor times are logged: all the way of 51 fixes") || r.Findings[0].Lost {
		t.Errorf("got findings %v, want that all is taken as work", r.Findings)
	}
	for _, asked := range []drive.Evidence{drive.EvidenceAll, drive.EvidenceLogged} {
		if r := checked(t, s, drive.Work{Width: 10, Working: asked}); len(r.Findings) != 0 {
			t.Errorf("--working %s: got findings %v, want none", asked, r.Findings)
		}
	}
}
