package coverage

import (
	"fmt"
	"testing"

	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"

	"github.com/paulmach/orb"
)

// Ten passes were planned 5 m apart; the fourth and the fifth were not driven, the
// eighth only for its first half. The strips say so, in both directions of drawing.
func TestStripsNamePlannedPasses(t *testing.T) {
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 50)}}
	var lines []geo.Line
	for i := range 10 {
		a, b := plane.XY{X: 0, Y: 2.5 + 5*float64(i)}, plane.XY{X: 100, Y: 2.5 + 5*float64(i)}
		lines = append(lines, geo.Line{Name: fmt.Sprintf("pass %d", i+1), Line: orb.LineString{trial.Paper.Point(a), trial.Paper.Point(b)}})
		switch i {
		case 3, 4:
			continue
		case 7:
			b.X = 50
		}
		s.Lines = append(s.Lines, trial.Straight(a, b, 2))
	}
	for _, turned := range []bool{false, true} {
		if turned {
			for _, l := range lines {
				l.Line.Reverse()
			}
		}
		r := checked(t, s, drive.Work{Width: 5})
		r.NamePlanned(lines)
		if len(r.Strips) != 2 || fmt.Sprint(r.Strips[0].Planned) != "[pass 4 pass 5]" || fmt.Sprint(r.Strips[1].Planned) != "[pass 8]" {
			t.Errorf("strips %+v", r.Strips)
		}
		if r.Strips[0].Cause != CausePlanned {
			t.Errorf("cause %q", r.Strips[0].Cause)
		}
		r.NamePlanned([]geo.Line{{Name: "far", Line: orb.LineString{{-170, -60}, {170, 60}}}})
		if len(r.Strips[0].Planned) != 0 {
			t.Errorf("a line elsewhere is named: %v", r.Strips[0].Planned)
		}
	}
}

// A strip has the name of a planned pass whose line runs inside it for half a credited width or more, and not for less: the
// fourth pass is lifted for so many metres in its middle, 5 m wide with 1 m of lap, so that 2 m of its line are the limit.
func TestHalfAWidthOfAPlannedLine(t *testing.T) {
	for _, c := range []struct {
		lifted float64
		want   string
	}{{1, "[]"}, {1.5, "[]"}, {2.3, "[pass 4]"}, {3, "[pass 4]"}, {8, "[pass 4]"}} {
		s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 40)}}
		var lines []geo.Line
		for i := range 10 {
			a, b := plane.XY{X: 0, Y: 2 + 4*float64(i)}, plane.XY{X: 100, Y: 2 + 4*float64(i)}
			lines = append(lines, geo.Line{Name: fmt.Sprintf("pass %d", i+1), Line: orb.LineString{trial.Paper.Point(a), trial.Paper.Point(b)}})
			if i != 3 {
				s.Lines = append(s.Lines, trial.Straight(a, b, 2))
				continue
			}
			s.Lines = append(s.Lines, trial.Straight(a, plane.XY{X: 50, Y: a.Y}, 2), trial.Straight(plane.XY{X: 50 + c.lifted, Y: a.Y}, b, 2))
		}
		r := checked(t, s, drive.Work{Width: 5, Overlap: 1})
		r.NamePlanned(lines)
		if len(r.Strips) != 1 || fmt.Sprint(r.Strips[0].Planned) != c.want {
			t.Errorf("lifted for %g m: %d strips, planned %v, want %s", c.lifted, len(r.Strips), r.Strips, c.want)
		}
	}
}

// A planned pass that meets the boundary at a slant and was not driven is no point row, one that was lowered late is still that, and
// of what a gap in the log leaves open nothing is said.
func TestCauseOfPlannedPasses(t *testing.T) {
	slanted := func(skip int, from float64) trial.Sketch {
		s := trial.Sketch{Rings: [][]plane.XY{{{X: 0, Y: 0}, {X: 100, Y: 0}, {X: 130, Y: 30}, {X: 0, Y: 30}}}}
		for i := range 6 {
			y, begin := 2.5+5*float64(i), 0.0
			switch {
			case i == skip:
				continue
			case i == 3:
				begin = from
			}
			s.Lines = append(s.Lines, trial.Straight(plane.XY{X: begin, Y: y}, plane.XY{X: 100 + y, Y: y}, 2))
		}
		return s
	}
	var lines []geo.Line
	for i := range 6 {
		y := 2.5 + 5*float64(i)
		lines = append(lines, geo.Line{Name: fmt.Sprintf("pass %d", i+1), Line: orb.LineString{trial.Paper.Point(plane.XY{X: 0, Y: y}), trial.Paper.Point(plane.XY{X: 100 + y, Y: y})}})
	}
	for _, c := range []struct {
		name    string
		s       trial.Sketch
		planned string
		want    bool // caused by the plan
	}{
		{"the fourth not driven", slanted(3, 0), "[pass 4]", true},
		{"the fourth lowered 20 m late", slanted(-1, 20), "[pass 4]", false},
		{"the fourth driven for its last third only", slanted(-1, 80), "[pass 4]", true},
	} {
		r := checked(t, c.s, drive.Work{Width: 5})
		before := r.Strips[0].Cause
		r.NamePlanned(lines)
		s := r.Strips[0]
		if fmt.Sprint(s.Planned) != c.planned || (s.Cause == CausePlanned) != c.want || !c.want && s.Cause != before {
			t.Errorf("%s: planned %v, cause %q, before %q", c.name, s.Planned, s.Cause, before)
		}
	}
	r := checked(t, slanted(3, 0), drive.Work{Width: 5})
	r.Strips[0].Cause = CauseGap
	if r.NamePlanned(lines); r.Strips[0].Cause != CauseGap {
		t.Errorf("in a log gap: %q", r.Strips[0].Cause)
	}
}
