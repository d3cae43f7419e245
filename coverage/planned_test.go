package coverage

import (
	"fmt"
	"testing"

	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// Ten passes were planned 5 m apart; the fourth and the fifth were not driven, the
// eighth only for its first half. The strips say so, in both directions of drawing.
func TestStripsNamePlannedPasses(t *testing.T) {
	s := sketch{rings: [][]plane.XY{rectangle(0, 0, 100, 50)}}
	var lines []geo.Line
	for i := range 10 {
		a, b := plane.XY{X: 0, Y: 2.5 + 5*float64(i)}, plane.XY{X: 100, Y: 2.5 + 5*float64(i)}
		lines = append(lines, geo.Line{Name: fmt.Sprintf("pass %d", i+1), Line: orb.LineString{paper.Point(a), paper.Point(b)}})
		switch i {
		case 3, 4:
			continue
		case 7:
			b.X = 50
		}
		s.lines = append(s.lines, straight(a, b, 2))
	}
	for _, turned := range []bool{false, true} {
		if turned {
			for _, l := range lines {
				l.Line.Reverse()
			}
		}
		r := s.check(t, Work{Width: 5})
		r.NamePlanned(lines)
		if len(r.Strips) != 2 || fmt.Sprint(r.Strips[0].Planned) != "[pass 4 pass 5]" || fmt.Sprint(r.Strips[1].Planned) != "[pass 8]" {
			t.Errorf("strips %+v", r.Strips)
		}
		r.NamePlanned([]geo.Line{{Name: "far", Line: orb.LineString{{-170, -60}, {170, 60}}}})
		if len(r.Strips[0].Planned) != 0 {
			t.Errorf("a line elsewhere is named: %v", r.Strips[0].Planned)
		}
	}
}
